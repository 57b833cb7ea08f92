// A small viewer for one ceiling: boxes, panels and what is near, by WebGL 1; arrow keys turn it.

const COLOURS = {
  0: [0.16, 0.2, 0.26], // main runner
  1: [0.38, 0.44, 0.52], // cross tee
  2: [0.52, 0.58, 0.66], // second tee
  3: [0.25, 0.3, 0.36], // wall angle
  4: [0.75, 0.33, 0.05], // hanger
  panel: [0.8, 0.84, 0.88],
  floor: [0.62, 0.62, 0.6],
  device: [0.95, 0.78, 0.25],
  service: [0.2, 0.5, 0.75],
  structure: [0.55, 0.5, 0.45],
};
const VERTEX = `
attribute vec3 place; attribute vec3 normal; attribute vec3 colour;
uniform mat4 view; varying vec3 shade;
void main() {
  float light = 0.55 + 0.3 * abs(normal.z) + 0.15 * abs(normal.x);
  shade = colour * light;
  gl_Position = view * vec4(place, 1.0);
}`;
const FRAGMENT = `
precision mediump float; varying vec3 shade; uniform float opacity;
void main() { gl_FragColor = vec4(shade, opacity); }`;

let look = null;

function closeLook() {
  look?.gl.getExtension("WEBGL_lose_context")?.loseContext();
  look = null;
}

function refuseLook(place) {
  const link = one("footer a[href$='.glb']");
  const words = "This browser shows no 3D pictures here (WebGL is missing). ";
  const rest = link ? make("a", { href: link.getAttribute("href") }, "The 3D model lies beside this report.") : "";
  place.replaceChildren(make("p", { role: "status" }, words, rest, ` ${place.dataset.alt}.`));
}

const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const minus = (a, b) => a.map((x, k) => x - b[k]);
const unit = (a) => {
  const size = Math.hypot(...a) || 1;
  return a.map((x) => x / size);
};

/** Collects triangles as place, normal, colour: nine numbers a corner. */
class Triangles {
  constructor() {
    this.numbers = [];
  }

  add(a, b, c, colour) {
    const normal = unit(cross(minus(b, a), minus(c, a)));
    for (const corner of [a, b, c]) this.numbers.push(...corner, ...normal, ...colour);
  }

  quad(a, b, c, d, colour) {
    this.add(a, b, c, colour);
    this.add(a, c, d, colour);
  }

  /** A bar from a to b; `width` aside, `height` away from its underside. */
  bar(a, b, width, height, isUpright, colour) {
    const along = unit(minus(b, a));
    const aside = isUpright ? [1, 0, 0] : unit(cross([0, 0, 1], along));
    const away = isUpright ? [0, 1, 0] : [0, 0, 1];
    const low = isUpright ? -height / 2 : 0;
    const at = (end, s, t) => end.map((x, k) => x + aside[k] * s + away[k] * t);
    const ring = (end) => [
      at(end, -width / 2, low),
      at(end, width / 2, low),
      at(end, width / 2, low + height),
      at(end, -width / 2, low + height),
    ];
    const [p, q] = [ring(a), ring(b)];
    for (let k = 0; k < 4; k += 1) this.quad(p[k], p[(k + 1) % 4], q[(k + 1) % 4], q[k], colour);
  }

  prism(ring, bottom, top, colour) {
    const at = ([x, y], z) => [x, y, z];
    ring.forEach((point, k) => {
      const next = ring[(k + 1) % ring.length];
      this.quad(at(point, bottom), at(next, bottom), at(next, top), at(point, top), colour);
    });
    for (const [a, b, c] of ears(ring)) {
      this.add(at(a, top), at(b, top), at(c, top), colour);
      this.add(at(a, bottom), at(b, bottom), at(c, bottom), colour);
    }
  }
}

/** A ring without holes as triangles, ear by ear. */
function ears(ring) {
  const area = ring.reduce((sum, [x, y], k) => {
    const [u, v] = ring[(k + 1) % ring.length];
    return sum + x * v - u * y;
  }, 0);
  const rest = area < 0 ? [...ring].reverse() : [...ring];
  const turn = (a, b, c) => (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
  const found = [];
  for (let tries = 0; rest.length > 2 && tries < 4 * ring.length; tries += 1) {
    const k = tries % rest.length;
    const [a, b, c] = [rest.at(k - 1), rest[k], rest[(k + 1) % rest.length]];
    const isEar =
      turn(a, b, c) >= 0 &&
      !rest.some((p) => p !== a && p !== b && p !== c && turn(a, b, p) > 0 && turn(b, c, p) > 0 && turn(c, a, p) > 0);
    if (!isEar) continue;
    found.push([a, b, c]);
    rest.splice(k, 1);
  }
  return found;
}

function buildScene(data) {
  const solid = new Triangles();
  const glass = new Triangles();
  for (const [x0, y0, z0, x1, y1, z1, width, height, kind] of data.bars) {
    solid.bar([x0, y0, z0], [x1, y1, z1], width, height, kind === 4, COLOURS[kind]);
  }
  for (const { ring, bottom, top, kind } of data.prisms) solid.prism(ring, bottom, top, COLOURS[kind]);
  for (const ring of data.rings) {
    ring.forEach((point, k) => {
      const next = ring[(k + 1) % ring.length];
      solid.bar([...point, data.floor], [...next, data.floor], 60, 60, false, COLOURS.floor);
      solid.bar([...point, data.floor], [...point, 0], 30, 30, true, COLOURS.floor);
    });
  }
  for (const [a, b, c, d, e, f] of data.faces) glass.add([a, b, 4], [c, d, 4], [e, f, 4], COLOURS.panel);
  const reach = Math.max(...data.rings.flat().map(([x, y]) => Math.hypot(x, y)), 1000);
  return { solid: new Float32Array(solid.numbers), glass: new Float32Array(glass.numbers), reach };
}

function viewMatrix({ yaw, pitch, far }, aspect) {
  const eye = [far * Math.cos(pitch) * Math.sin(yaw), -far * Math.cos(pitch) * Math.cos(yaw), far * Math.sin(pitch)];
  const z = unit(eye);
  const x = unit(cross([0, 0, 1], z));
  const y = cross(z, x);
  const [near, deep] = [far / 50, far * 4];
  const lens = 1.9;
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const w = [-z[0], -z[1], -z[2], dot(z, eye)];
  const depth = (deep + near) / (deep - near);
  const shift = (-2 * deep * near) / (deep - near);
  const rows = [
    [...x.map((n) => (n * lens) / aspect), (-dot(x, eye) * lens) / aspect],
    [...y.map((n) => n * lens), -dot(y, eye) * lens],
    w.map((n, k) => n * depth + (k === 3 ? shift : 0)),
    w,
  ];
  return new Float32Array([0, 1, 2, 3].flatMap((column) => rows.map((row) => row[column])));
}

function compile(gl) {
  const program = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    gl.attachShader(program, shader);
  }
  gl.linkProgram(program);
  return gl.getProgramParameter(program, gl.LINK_STATUS) ? program : null;
}

function drawLook() {
  const { gl, program, parts, canvas, camera } = look;
  const scale = window.devicePixelRatio || 1;
  canvas.width = Math.round(canvas.clientWidth * scale);
  canvas.height = Math.round(canvas.clientHeight * scale);
  gl.viewport(0, 0, canvas.width, canvas.height);
  gl.clearColor(0.98, 0.98, 0.97, 1);
  gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
  gl.uniformMatrix4fv(gl.getUniformLocation(program, "view"), false, viewMatrix(camera, canvas.width / canvas.height));
  for (const { buffer, count, opacity } of parts) {
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    ["place", "normal", "colour"].forEach((name, k) => {
      const at = gl.getAttribLocation(program, name);
      gl.enableVertexAttribArray(at);
      gl.vertexAttribPointer(at, 3, gl.FLOAT, false, 36, 12 * k);
    });
    gl.uniform1f(gl.getUniformLocation(program, "opacity"), opacity);
    gl.depthMask(opacity === 1);
    gl.drawArrays(gl.TRIANGLES, 0, count);
    gl.depthMask(true);
  }
}

function turnLook(yaw, pitch, nearer = 1) {
  if (!look) return;
  const { camera, reach } = look;
  camera.yaw += yaw;
  camera.pitch = Math.min(Math.max(camera.pitch + pitch, -1.5), 1.5);
  camera.far = Math.min(Math.max(camera.far * nearer, reach * 0.4), reach * 6);
  drawLook();
}

const LOOK_MOVES = {
  ArrowLeft: [-0.15, 0, 1, "Turn left"],
  ArrowRight: [0.15, 0, 1, "Turn right"],
  ArrowUp: [0, 0.12, 1, "Higher"],
  ArrowDown: [0, -0.12, 1, "Lower"],
  "+": [0, 0, 0.85, "Nearer"],
  "-": [0, 0, 1.18, "Farther"],
};

function openLook(place, data) {
  closeLook();
  const canvas = make("canvas", { tabindex: "0", role: "img", "aria-label": `${place.dataset.alt}. Arrow keys turn it.` });
  const gl = canvas.getContext("webgl", { antialias: true, preserveDrawingBuffer: true });
  const program = gl && compile(gl);
  if (!program) return refuseLook(place);
  const scene = buildScene(data);
  const buttons = Object.values(LOOK_MOVES).map(([yaw, pitch, nearer, words]) => {
    const button = make("button", { type: "button" }, words);
    button.addEventListener("click", () => turnLook(yaw, pitch, nearer));
    return button;
  });
  place.replaceChildren(canvas, make("p", { class: "turns" }, ...buttons), make("p", { class: "fine" }, `${place.dataset.alt}.`));
  gl.useProgram(program);
  gl.enable(gl.DEPTH_TEST);
  gl.enable(gl.BLEND);
  gl.blendFunc(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA);
  const parts = [[scene.solid, 1], [scene.glass, 0.7]].map(([numbers, opacity]) => {
    const buffer = gl.createBuffer();
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.bufferData(gl.ARRAY_BUFFER, numbers, gl.STATIC_DRAW);
    return { buffer, count: numbers.length / 9, opacity };
  });
  look = { gl, program, parts, canvas, reach: scene.reach, camera: { yaw: 0.6, pitch: 0.6, far: scene.reach * 2.1 } };
  canvas.addEventListener("keydown", (event) => {
    const move = LOOK_MOVES[event.key === "=" ? "+" : event.key];
    if (!move) return;
    event.preventDefault();
    turnLook(...move.slice(0, 3));
  });
  canvas.addEventListener("pointerdown", (event) => canvas.setPointerCapture(event.pointerId));
  canvas.addEventListener("pointermove", (event) => {
    if (event.buttons & 1) turnLook(-event.movementX * 0.008, event.movementY * 0.008);
  });
  canvas.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    turnLook(0, 0, Math.exp(event.deltaY * 0.005));
  }, { passive: false });
  drawLook();
  canvas.focus();
  return undefined;
}
