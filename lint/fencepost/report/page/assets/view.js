// The board in a window that can be moved and zoomed. Copper is painted on a canvas from path data in steps of 10 µm;
// everything that can be pointed at lies on the SVG above it. While the window moves the painted picture moves along
// with it, and it is painted anew as soon as the hand rests.

const STEPS = 100; // of 10 µm in a millimetre
const CLOSEST = 900; // px to a millimetre at the most
const REST = 90; // ms after which the board is painted anew

class View {
  constructor(frame, canvas, changed) {
    this.frame = frame;
    this.canvas = canvas;
    this.changed = changed;
    this.spare = document.createElement("canvas");
    this.board = null;
    this.scale = 1; // px to a millimetre
    this.x = 0; // mm at the left edge
    this.y = 0; // mm at the upper edge, upwards
    this.painted = null;
    this.hiddenLayers = new Set();
    this.kinds = new Set(["ground", "power", "signal"]);
    this.focus = null; // layers that matter to the finding that is shown, or null for all
    this.shapes = [];
    this.dark = matchMedia("screen and (prefers-color-scheme: dark)");
    this.dark.addEventListener("change", () => this.paint());
    new ResizeObserver(() => this.resized()).observe(frame);
    this.listen();
  }

  show(board) {
    this.board = board;
    if (board && !board.ready) prepare(board);
    this.fit();
  }

  get width() { return this.frame.clientWidth; }
  get height() { return this.frame.clientHeight; }

  toScreen([x, y]) { return [(x - this.x) * this.scale, (this.y - y) * this.scale]; }
  toBoard(px, py) { return [this.x + px / this.scale, this.y - py / this.scale]; }
  state() { return { scale: this.scale, x: this.x, y: this.y }; }

  restore(state) {
    Object.assign(this, state);
    this.moved();
  }

  fit() {
    if (!this.board || !this.width || !this.height) return;
    const [w, h] = this.board.size.map((steps) => Math.max(steps / STEPS, 0.1));
    this.centre([0, 0, w, h], 18);
    this.whole = true;
  }

  // Show a box of the board, with so many px around it.
  centre([x0, y0, x1, y1], margin) {
    const room = (size) => Math.max(size - 2 * margin, 20);
    const scale = Math.min(room(this.width) / Math.max(x1 - x0, 0.01), room(this.height) / Math.max(y1 - y0, 0.01));
    this.scale = Math.min(scale, CLOSEST);
    this.x = (x0 + x1) / 2 - this.width / 2 / this.scale;
    this.y = (y0 + y1) / 2 + this.height / 2 / this.scale;
    this.whole = false;
    this.moved();
  }

  zoom(factor, px = this.width / 2, py = this.height / 2) {
    const [x, y] = this.toBoard(px, py);
    const least = 0.3 * Math.min(this.width / (this.board.size[0] / STEPS), this.height / (this.board.size[1] / STEPS));
    this.scale = Math.min(Math.max(this.scale * factor, least), CLOSEST);
    this.x = x - px / this.scale;
    this.y = y + py / this.scale;
    this.whole = false;
    this.moved();
  }

  pan(dx, dy) {
    this.x -= dx / this.scale;
    this.y += dy / this.scale;
    this.whole = false;
    this.moved();
  }

  resized() {
    if (this.painted && this.painted.width === this.width && this.painted.height === this.height) return;
    if (this.whole || !this.painted) this.fit();
    else this.paint();
  }

  moved() {
    if (!this.board) return;
    if (this.painted) {
      const [left, top] = this.toScreen([this.painted.x, this.painted.y]);
      this.canvas.style.transform = `translate(${left}px,${top}px) scale(${this.scale / this.painted.scale})`;
    }
    this.changed();
    clearTimeout(this.timer);
    if (this.painted) this.timer = setTimeout(() => this.paint(), REST);
    else this.paint();
  }

  paint(ratio = Math.min(devicePixelRatio || 1, 2)) {
    clearTimeout(this.timer);
    if (!this.board || !this.width || !this.height) return;
    for (const canvas of [this.canvas, this.spare]) {
      canvas.width = Math.round(this.width * ratio);
      canvas.height = Math.round(this.height * ratio);
    }
    this.canvas.style.width = `${this.width}px`;
    this.canvas.style.height = `${this.height}px`;
    this.canvas.style.transform = "";
    const context = this.canvas.getContext("2d");
    this.place(context, ratio);
    const style = getComputedStyle(document.documentElement);
    context.fillStyle = style.getPropertyValue("--substrate");
    context.fill(this.board.profilePath);
    for (const sheet of this.board.order) this.paintSheet(context, sheet, ratio);
    this.place(context, ratio);
    context.globalAlpha = 1;
    context.strokeStyle = style.getPropertyValue("--rim");
    context.lineWidth = (1.2 * STEPS) / this.scale;
    context.stroke(this.board.profilePath);
    this.paintHoles(context, style);
    for (const shape of this.shapes) this.paintShape(context, shape, ratio, style);
    this.painted = { ...this.state(), width: this.width, height: this.height };
    this.changed();
  }

  place(context, ratio) {
    const k = (this.scale / STEPS) * ratio;
    context.setTransform(k, 0, 0, -k, -this.x * this.scale * ratio, this.y * this.scale * ratio);
  }

  colour(layer) { return (this.dark.matches ? this.board.dark : this.board.light)[layer - 1]; }

  visible(sheet) { return !this.hiddenLayers.has(sheet.layer) && this.kinds.has(sheet.kind); }

  // Of several grounds over one another each is fainter, so that all of them together leave the signals to be seen.
  weight(kind) {
    const over = this.focus ? this.focus.size : this.board.layers - this.hiddenLayers.size;
    const faint = { ground: Math.min(0.3, 0.55 / Math.max(over, 1)), power: Math.min(0.5, 1.2 / Math.max(over, 1)) };
    return faint[kind] || (this.focus ? 0.6 : 0.92);
  }

  // Each sheet is painted whole before it is laid over the others, so that its own parts do not darken one another.
  paintSheet(context, sheet, ratio) {
    if (!this.visible(sheet)) return;
    const spare = this.spare.getContext("2d");
    spare.setTransform(1, 0, 0, 1, 0, 0);
    spare.clearRect(0, 0, this.spare.width, this.spare.height);
    spare.globalCompositeOperation = "source-over";
    this.place(spare, ratio);
    fillSheet(spare, sheet, this.colour(sheet.layer));
    if (sheet.kind === "power") hatch(spare, ratio);
    const dimmed = this.focus && !this.focus.has(sheet.layer);
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.globalAlpha = this.weight(sheet.kind) * (dimmed ? 0.1 : 1);
    context.drawImage(this.spare, 0, 0);
  }

  paintHoles(context, style) {
    const ink = style.getPropertyValue("--hole");
    for (const strokes of [this.board.holes, this.board.ties]) strokePaths(context, strokes, ink);
    // A tie has a bright core, so that ground vias can be told from all others.
    context.strokeStyle = style.getPropertyValue("--page");
    context.lineCap = "round";
    for (const [width, path] of this.board.ties) {
      context.lineWidth = width / 10 / 2;
      context.stroke(path);
    }
  }

  // What belongs under the overlay: a field, and copper that is a reference.
  paintShape(context, shape, ratio, style) {
    if (shape.type === "heat") paintHeat(context, shape, this, ratio);
    if (shape.type !== "circle" || !shape.role.startsWith("reference")) return;
    const kind = this.board.kinds[shape.label] || "ground";
    const spare = this.spare.getContext("2d");
    spare.setTransform(1, 0, 0, 1, 0, 0);
    spare.clearRect(0, 0, this.spare.width, this.spare.height);
    this.place(spare, ratio);
    for (const sheet of this.board.sheets) {
      if (`L${sheet.layer}` === shape.layer && sheet.kind === kind) fillSheet(spare, sheet, this.colour(sheet.layer));
    }
    hatch(spare, ratio, shape.role.endsWith("after"));
    this.place(context, ratio);
    context.save();
    context.beginPath();
    context.arc(shape.at[0] * STEPS, shape.at[1] * STEPS, shape.radius * STEPS, 0, 2 * Math.PI);
    context.clip();
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.globalAlpha = 0.55;
    context.drawImage(this.spare, 0, 0);
    context.restore();
    context.globalAlpha = 1;
  }

  listen() {
    const frame = this.frame;
    const fingers = new Map();
    const at = (event) => {
      const box = frame.getBoundingClientRect();
      return [event.clientX - box.left, event.clientY - box.top];
    };
    frame.addEventListener("wheel", (event) => {
      event.preventDefault();
      const step = event.deltaMode === 1 ? 16 : 1;
      this.zoom(Math.exp(-event.deltaY * step * 0.0022), ...at(event));
    }, { passive: false });
    frame.addEventListener("pointerdown", (event) => {
      if (event.target.closest("button")) return;
      fingers.set(event.pointerId, at(event));
      this.travelled = 0;
    });
    frame.addEventListener("pointermove", (event) => {
      if (!fingers.has(event.pointerId)) return;
      const before = [...fingers.values()];
      const last = fingers.get(event.pointerId);
      const now = at(event);
      fingers.set(event.pointerId, now);
      this.travelled += Math.hypot(now[0] - last[0], now[1] - last[1]);
      // Only a drag takes the pointer, so that a click still reaches what is under it.
      if (this.travelled > 4 && !frame.hasPointerCapture(event.pointerId)) frame.setPointerCapture(event.pointerId);
      const after = [...fingers.values()];
      const middle = (points) => points.reduce(([a, b], [c, d]) => [a + c / points.length, b + d / points.length], [0, 0]);
      const [x0, y0] = middle(before);
      const [x1, y1] = middle(after);
      this.pan(x1 - x0, y1 - y0);
      if (after.length === 2) {
        const apart = ([[a, b], [c, d]]) => Math.hypot(a - c, b - d) || 1;
        this.zoom(apart(after) / apart(before), x1, y1);
      }
    });
    for (const name of ["pointerup", "pointercancel"]) {
      frame.addEventListener(name, (event) => fingers.delete(event.pointerId));
    }
    frame.addEventListener("pointerleave", (event) => {
      if (!frame.hasPointerCapture(event.pointerId)) fingers.delete(event.pointerId);
    });
    frame.addEventListener("keydown", (event) => {
      if (event.target !== frame || event.ctrlKey || event.metaKey || event.altKey) return;
      const far = event.shiftKey ? 200 : 60;
      const act = {
        ArrowLeft: () => this.pan(far, 0), ArrowRight: () => this.pan(-far, 0),
        ArrowUp: () => this.pan(0, far), ArrowDown: () => this.pan(0, -far),
        "+": () => this.zoom(1.4), "=": () => this.zoom(1.4), "-": () => this.zoom(1 / 1.4),
        0: () => this.fit(), Home: () => this.fit(),
      }[event.key];
      if (!act) return;
      event.preventDefault();
      act();
    });
  }
}

// Path data becomes paths once.
function prepare(board) {
  const paths = (strokes) => strokes.map(([width, text]) => [width, new Path2D(text)]);
  board.profilePath = new Path2D(board.profile);
  for (const sheet of board.sheets) {
    sheet.areas = new Path2D(sheet.areas);
    sheet.strokes = paths(sheet.strokes);
  }
  board.holes = paths(board.holes);
  board.ties = paths(board.ties);
  const rank = { ground: 0, power: 1, signal: 2 };
  board.order = [...board.sheets].sort((a, b) => b.layer - a.layer || rank[a.kind] - rank[b.kind]);
  board.ready = true;
}

function fillSheet(context, sheet, colour) {
  context.globalAlpha = 1;
  context.fillStyle = colour;
  context.fill(sheet.areas);
  strokePaths(context, sheet.strokes, colour);
}

function strokePaths(context, strokes, colour) {
  context.strokeStyle = colour;
  context.lineCap = "round";
  context.lineJoin = "round";
  for (const [width, path] of strokes) {
    context.lineWidth = width / 10;
    context.stroke(path);
  }
}

// Leave only slanted stripes of what is painted, and a trace of the rest.
function hatch(context, ratio, other = false) {
  const size = Math.round(8 * ratio);
  const tile = document.createElement("canvas");
  tile.width = tile.height = size;
  const pen = tile.getContext("2d");
  pen.fillStyle = "rgba(0,0,0,.3)";
  pen.fillRect(0, 0, size, size);
  pen.strokeStyle = "#000";
  pen.lineWidth = 2.4 * ratio;
  for (const shift of [-size, 0, size]) {
    pen.beginPath();
    pen.moveTo(other ? size + shift : shift, 0);
    pen.lineTo(other ? shift : size + shift, size);
    pen.stroke();
  }
  context.setTransform(1, 0, 0, 1, 0, 0);
  context.globalAlpha = 1;
  context.globalCompositeOperation = "destination-in";
  context.fillStyle = context.createPattern(tile, "repeat");
  context.fillRect(0, 0, context.canvas.width, context.canvas.height);
  context.globalCompositeOperation = "source-over";
}

// A field: the stronger, the less of the board shows through it.
function paintHeat(context, shape, view, ratio) {
  const rows = shape.rows;
  const image = document.createElement("canvas");
  image.width = rows[0].length;
  image.height = rows.length;
  const pen = image.getContext("2d");
  const pixels = pen.createImageData(image.width, image.height);
  const [low, high] = view.dark.matches ? [[40, 60, 110], [255, 236, 150]] : [[250, 226, 150], [120, 16, 52]];
  rows.forEach((row, j) => row.forEach((value, i) => {
    const at = 4 * ((rows.length - 1 - j) * image.width + i);
    const share = value / 99;
    for (const c of [0, 1, 2]) pixels.data[at + c] = low[c] + (high[c] - low[c]) * share;
    pixels.data[at + 3] = value ? 90 + 150 * share : 0;
  }));
  pen.putImageData(pixels, 0, 0);
  const [x, y] = view.toScreen([shape.at[0], shape.at[1] + rows.length * shape.cell]);
  context.setTransform(ratio, 0, 0, ratio, 0, 0);
  context.imageSmoothingEnabled = true;
  context.drawImage(image, x, y, image.width * shape.cell * view.scale, image.height * shape.cell * view.scale);
}
