// One filter for plans and tables: storey, grid system, standing and words.

const form = one("form.filters");
const chips = all(".chip", form);
const quantityRows = all("#quantities-table tr[data-storey-name]");
const figures = all("figure.storey");

const isPressed = (chip) => chip.getAttribute("aria-pressed") === "true";
const press = (chip, isOn) => chip.setAttribute("aria-pressed", String(isOn));

function readFilter() {
  return {
    storey: one("#storey").value,
    system: one("#system").value,
    standings: new Set(chips.filter((c) => isPressed(c)).map((c) => c.dataset.standing)),
    words: one("#words").value.toLowerCase().split(/\s+/).filter(Boolean),
  };
}

const hasAll = (text, words) => words.every((word) => text.includes(word));

function fits(room, filter) {
  return (
    (!filter.storey || room.storey === filter.storey) &&
    (!filter.system || room.system === filter.system) &&
    filter.standings.has(room.standing) &&
    hasAll(room.words, filter.words)
  );
}

function showRoom(room, isShown, words) {
  room.isShown = isShown;
  for (const row of room.rows) row.hidden = !isShown;
  for (const part of [room.shape, room.label]) part?.classList.toggle("off", !isShown);
  if (isShown) room.shape?.removeAttribute("aria-disabled");
  else room.shape?.setAttribute("aria-disabled", "true");
  // Words that name the room keep all its findings; else only those that say them.
  const keepsAll = hasAll(room.title.toLowerCase(), words);
  let count = 0;
  for (const finding of room.findings) {
    const isWanted = isShown && (keepsAll || hasAll(finding.words, words));
    finding.row.hidden = !isWanted;
    finding.flag?.classList.toggle("off", !isWanted);
    count += isWanted;
  }
  return count;
}

function applyFilter() {
  const filter = readFilter();
  let shownRooms = 0;
  let shownFindings = 0;
  for (const room of rooms) {
    const isShown = fits(room, filter);
    shownRooms += isShown;
    shownFindings += showRoom(room, isShown, filter.words);
  }
  for (const figure of figures) figure.hidden = Boolean(filter.storey) && figure.dataset.storey !== filter.storey;
  const chosen = figures.find((figure) => figure.dataset.storey === filter.storey);
  for (const row of quantityRows) row.hidden = Boolean(chosen) && row.dataset.storeyName !== chosen.dataset.name;
  one("#count").textContent =
    `${shownRooms} of ${rooms.length} rooms and ${shownFindings} of ${findings.size} findings shown`;
  for (const plan of plans) plan.settle();
}

function resetFilter() {
  for (const field of all("select, input", form)) field.value = "";
  for (const chip of chips) press(chip, true);
  applyFilter();
}

function startFilters() {
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("input", applyFilter);
  form.addEventListener("reset", (event) => {
    event.preventDefault();
    resetFilter();
  });
  for (const chip of chips) {
    chip.addEventListener("click", () => {
      press(chip, !isPressed(chip));
      applyFilter();
    });
  }
}
