// Rooms as the templates tell them, and everything on the page that belongs to each.

const all = (selector, root = document) => [...root.querySelectorAll(selector)];
const one = (selector, root = document) => root.querySelector(selector);

const rooms = all("template[data-room]").map((template) => ({
  template,
  place: template.dataset.room,
  key: template.dataset.key,
  title: template.dataset.title,
  storey: template.dataset.storey,
  standing: template.dataset.standing,
  system: template.dataset.system,
  words: template.dataset.words,
  shape: null,
  label: null,
  rows: [],
  findings: [],
  isShown: true,
}));

const roomAt = (place) => rooms[Number(place)];
const roomByKey = new Map(rooms.map((room) => [room.key, room]));
const findings = new Map();

for (const shape of all(".room[data-room]")) roomAt(shape.dataset.room).shape = shape;
for (const label of all(".label[data-room]")) roomAt(label.dataset.room).label = label;
for (const row of all("#rooms-table tr[data-room]")) roomAt(row.dataset.room).rows.push(row);
for (const row of all("#findings-table tr[data-finding]")) {
  const room = roomAt(row.dataset.room);
  const finding = { room, row, flag: null, words: row.textContent.toLowerCase() };
  findings.set(row.dataset.finding, finding);
  room.findings.push(finding);
}
for (const flag of all(".flag[data-finding]")) findings.get(flag.dataset.finding).flag = flag;

const make = (tag, attributes = {}, ...content) => {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...content);
  return made;
};
