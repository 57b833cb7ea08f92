// A plan is enlarged and moved by its view box; arrow keys go from room to room.

const plans = [];
const DIRECTIONS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const MOST = 40;

class Plan {
  constructor(svg) {
    this.svg = svg;
    const [, , width, height] = svg.getAttribute("viewBox").split(" ").map(Number);
    this.whole = { x: 0, y: 0, width, height };
    this.view = { ...this.whole };
    this.flags = all(".flag", svg);
    this.rooms = rooms.filter((room) => room.shape && svg.contains(room.shape));
    this.current = null;
    this.drag = null;
    this.listen();
  }

  listen() {
    const { svg } = this;
    svg.addEventListener("click", (event) => this.click(event));
    svg.addEventListener("keydown", (event) => this.key(event));
    svg.addEventListener("focusin", (event) => this.focused(event));
    svg.addEventListener("pointerdown", (event) => this.grip(event));
    svg.addEventListener("pointermove", (event) => this.pull(event));
    for (const name of ["pointerup", "pointercancel"]) svg.addEventListener(name, () => (this.drag = null));
    svg.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    for (const button of all("[data-zoom]", svg.closest("figure"))) {
      button.addEventListener("click", () => this.zoomBy(button.dataset.zoom));
    }
  }

  /** Put the one tab stop of the plan on a room that is shown. */
  settle() {
    const shown = this.rooms.filter((room) => room.isShown);
    if (!shown.includes(this.current)) this.current = shown[0] ?? null;
    for (const room of this.rooms) room.shape.setAttribute("tabindex", room === this.current ? 0 : -1);
  }

  click(event) {
    if (this.drag?.hasMoved) return;
    const flag = event.target.closest(".flag");
    const shape = event.target.closest(".room");
    if (flag) go("finding", flag.dataset.finding);
    else if (shape) go("room", roomAt(shape.dataset.room).key);
  }

  key(event) {
    const flag = event.target.closest(".flag");
    if (event.key === "Enter" || event.key === " ") {
      if (flag) go("room", findings.get(flag.dataset.finding).room.key);
      else if (this.current) go("room", this.current.key);
    } else if (event.key in DIRECTIONS) this.step(DIRECTIONS[event.key]);
    else if (event.key === "+" || event.key === "=") this.zoomBy("in");
    else if (event.key === "-") this.zoomBy("out");
    else if (event.key === "0") this.zoomBy("all");
    else return;
    event.preventDefault();
  }

  /** The nearest room in a direction: what lies aside counts double. */
  step([dx, dy]) {
    if (!this.current) return;
    const from = middle(this.current);
    let best = null;
    for (const room of this.rooms) {
      if (!room.isShown || room === this.current) continue;
      const at = middle(room);
      const [x, y] = [at.x - from.x, at.y - from.y];
      const ahead = x * dx + y * dy;
      const aside = Math.abs(x * dy) + Math.abs(y * dx);
      if (ahead <= aside * 0.3) continue;
      const far = ahead + 2 * aside;
      if (!best || far < best.far) best = { room, far };
    }
    if (best) this.focus(best.room);
  }

  focus(room) {
    this.current = room;
    this.settle();
    this.reach(middle(room));
    room.shape.focus({ preventScroll: true });
    room.shape.scrollIntoView({ block: "nearest", inline: "nearest" });
  }

  focused(event) {
    const shape = event.target.closest(".room");
    if (!shape) return;
    this.current = roomAt(shape.dataset.room);
    this.settle();
  }

  set(view) {
    const width = Math.min(Math.max(view.width, this.whole.width / MOST), this.whole.width);
    const height = width * (this.whole.height / this.whole.width);
    const keep = (at, size, most) => Math.min(Math.max(at, 0), most - size);
    this.view = {
      x: keep(view.x, width, this.whole.width),
      y: keep(view.y, height, this.whole.height),
      width,
      height,
    };
    const { x, y } = this.view;
    this.svg.setAttribute("viewBox", [x, y, width, height].map((n) => n.toFixed(1)).join(" "));
    this.svg.classList.toggle("zoomed", width < this.whole.width * 0.999);
    // Flags keep their size on the screen, so that they hide less the nearer one looks.
    const size = (width / this.whole.width) ** 0.6;
    for (const flag of this.flags) {
      flag.setAttribute("transform", `translate(${flag.dataset.x} ${flag.dataset.y}) scale(${size.toFixed(3)})`);
    }
  }

  zoomBy(step, at) {
    if (step === "all") return this.set(this.whole);
    const ratio = step === "in" ? 1 / 1.5 : step === "out" ? 1.5 : step;
    const { x, y, width, height } = this.view;
    const around = at ?? (this.current ? middle(this.current) : { x: x + width / 2, y: y + height / 2 });
    return this.set({ x: around.x - (around.x - x) * ratio, y: around.y - (around.y - y) * ratio, width: width * ratio });
  }

  /** Move the view, if need be, so that a point is well inside; with `width` also enlarge to that. */
  reach(point, width) {
    const view = width ? { ...this.view, width } : this.view;
    const height = view.width * (this.whole.height / this.whole.width);
    const isInside =
      Math.abs(point.x - view.x - view.width / 2) < view.width * 0.42 &&
      Math.abs(point.y - view.y - height / 2) < height * 0.42;
    if (!width && isInside) return;
    this.set({ x: point.x - view.width / 2, y: point.y - height / 2, width: view.width });
  }

  place(event) {
    const matrix = this.svg.getScreenCTM();
    return new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
  }

  grip(event) {
    if (event.button !== 0) return;
    this.drag = { from: this.place(event), x: event.clientX, y: event.clientY, hasMoved: false };
  }

  pull(event) {
    if (!this.drag || !(event.buttons & 1) || !this.svg.classList.contains("zoomed")) return;
    const far = Math.hypot(event.clientX - this.drag.x, event.clientY - this.drag.y);
    if (far < 5 && !this.drag.hasMoved) return;
    this.drag.hasMoved = true;
    this.svg.setPointerCapture(event.pointerId);
    const now = this.place(event);
    const { x, y, width } = this.view;
    this.set({ x: x + this.drag.from.x - now.x, y: y + this.drag.from.y - now.y, width });
  }

  wheel(event) {
    if (!event.ctrlKey) return;
    event.preventDefault();
    this.zoomBy(Math.exp(event.deltaY * 0.01), this.place(event));
  }
}

function middle(room) {
  if (!room.middle) {
    const label = room.label ? one("tspan", room.label) : null;
    const box = one(".fill", room.shape).getBBox();
    const x = label ? Number(label.getAttribute("x")) : box.x + box.width / 2;
    const y = label ? Number(label.getAttribute("y")) : box.y + box.height / 2;
    room.middle = { x, y };
  }
  return room.middle;
}

const planOf = (svg) => plans.find((plan) => plan.svg === svg);

function startPlans() {
  for (const svg of all("svg.plan")) plans.push(new Plan(svg));
  for (const box of all("[data-layer]")) {
    box.addEventListener("change", () => {
      for (const plan of plans) plan.svg.classList.toggle(`no-${box.dataset.layer}`, !box.checked);
    });
  }
}
