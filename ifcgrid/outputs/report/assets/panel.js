// The panel of one room, and the addresses #room=KEY and #finding=NUMBER that lead to it.

const panel = one("#panel");
let opened = null;
let opener = null;

/** Go to an address; the page follows it as it follows a link. */
function go(kind, value) {
  const hash = `#${kind}=${encodeURIComponent(value)}`;
  if (location.hash === hash) follow();
  else location.hash = hash;
}

function follow() {
  if (location.hash === "" && opened) closePanel();
  const found = /^#(room|finding)=(.*)$/.exec(location.hash);
  if (!found) return;
  let value = found[2];
  try {
    value = decodeURIComponent(value);
  } catch {
    return; // an address that somebody cut short
  }
  if (found[1] === "room" && roomByKey.has(value)) showPanel(roomByKey.get(value), true);
  if (found[1] === "finding" && findings.has(value)) showFinding(findings.get(value));
}

function showPanel(room, takesFocus) {
  if (document.activeElement && !panel.contains(document.activeElement) && document.activeElement !== document.body) {
    opener = document.activeElement;
  }
  if (opened !== room) fillPanel(room);
  if (!room.isShown) resetFilter();
  if (!takesFocus) return;
  const title = one("#panel-title", panel);
  title.focus({ preventScroll: true });
  panel.scrollTop = 0;
  panel.scrollIntoView({ block: "nearest" });
}

function fillPanel(room) {
  closeLook();
  mark(opened, false);
  opened = room;
  mark(room, true);
  const close = make("button", { type: "button", class: "close" }, "Close");
  close.addEventListener("click", closePanel);
  const place = make("button", { type: "button", class: "to-plan" }, "Show on the plan");
  place.addEventListener("click", () => showRoomOnPlan(room));
  const bar = make("div", { class: "bar" }, ...(room.shape ? [place] : []), close);
  panel.replaceChildren(bar, room.template.content.cloneNode(true));
  panel.hidden = false;
  document.body.classList.add("has-panel");
  fillPacks(panel);
}

function mark(room, isOpen) {
  if (!room) return;
  for (const part of [room.shape, room.label, ...room.rows]) part?.classList.toggle("open", isOpen);
  if (isOpen) room.shape?.setAttribute("aria-current", "true");
  else room.shape?.removeAttribute("aria-current");
}

function closePanel() {
  closeLook();
  const back = opener?.isConnected && opener.checkVisibility?.() !== false ? opener : opened?.shape;
  mark(opened, false);
  opened = null;
  panel.hidden = true;
  panel.replaceChildren();
  document.body.classList.remove("has-panel");
  history.replaceState(null, "", location.pathname + location.search);
  back?.focus();
}

function showRoomOnPlan(room) {
  const plan = planOf(room.shape.ownerSVGElement);
  plan.focus(room);
  plan.svg.scrollIntoView({ block: "center" });
}

/** The finding's room in the panel, its flag on the plan in the middle, lit and in focus. */
function showFinding(finding) {
  showPanel(finding.room, !finding.flag);
  for (const flag of all(".flag.lit")) flag.classList.remove("lit");
  if (!finding.flag) return;
  if (finding.flag.classList.contains("off")) resetFilter();
  const { flag } = finding;
  const plan = planOf(flag.ownerSVGElement);
  const point = { x: Number(flag.dataset.x), y: Number(flag.dataset.y) };
  plan.set(plan.whole);
  plan.reach(point, Math.max(plan.whole.width / 5, 9000));
  flag.parentNode.append(flag); // what is drawn last lies on top
  flag.classList.add("lit");
  flag.focus({ preventScroll: true });
  plan.svg.scrollIntoView({ block: "center" });
}

function startPanel() {
  window.addEventListener("hashchange", follow);
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && opened) closePanel();
  });
  document.addEventListener("click", (event) => {
    // A link to the address that is already there changes nothing, but its reader wants to go there.
    const link = event.target.closest?.("a[href^='#']");
    if (link && link.hash === location.hash) follow();
  });
  follow();
}
