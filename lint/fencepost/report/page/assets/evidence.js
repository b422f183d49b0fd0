// The overlay: a marker for every finding, and the evidence of the one that is shown. Lengths of evidence are in mm.

const SVG = "http://www.w3.org/2000/svg";
const SIGN = { error: "M0-7L7 0L0 7L-7 0z", warning: "M0-6.5L7 6H-7z", note: "M-5.5 0a5.5 5.5 0 1 1 11 0a5.5 5.5 0 1 1-11 0z" };
const RANK = { error: 3, warning: 2, note: 1 };

function svg(name, attributes, text) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== undefined) element.textContent = text;
  return element;
}

class Overlay {
  constructor(view, markers, shapes, chosen) {
    this.view = view;
    this.markers = markers;
    this.shapes = shapes;
    this.labels = byId("labels");
    this.chosen = chosen;
    this.signs = new Map();
    this.current = null;
    markers.addEventListener("click", (event) => {
      const sign = event.target.closest(".marker");
      if (sign && !(view.travelled > 4)) chosen(sign.dataset.name);
    });
  }

  // Markers of these findings, by name; the worst lie on top.
  fill(findings) {
    this.signs.clear();
    this.markers.replaceChildren();
    const order = [...findings].sort(([, a], [, b]) => RANK[a.severity] - RANK[b.severity]);
    for (const [name, finding] of order) {
      const group = svg("g", { class: `marker ${finding.severity}`, "data-name": name });
      group.append(svg("title", {}, `${finding.severity}: ${finding.rule}`), svg("circle", { class: "hit", r: 12 }));
      group.append(svg("path", { d: SIGN[finding.severity] }));
      this.signs.set(name, [group, finding]);
      this.markers.append(group);
    }
  }

  // Show the markers of these findings only.
  filter(names) {
    for (const [name, [group]] of this.signs) group.toggleAttribute("hidden", !names.has(name));
  }

  select(name) {
    this.current = name;
    for (const [own, [group]] of this.signs) group.classList.toggle("current", own === name);
    this.draw();
  }

  draw() {
    for (const [group, finding] of this.signs.values()) {
      const [x, y] = this.view.toScreen(finding.at);
      group.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
    }
    this.shapes.replaceChildren();
    this.labels.replaceChildren();
    const entry = this.current && this.signs.get(this.current);
    if (!entry) return;
    const labels = [];
    for (const shape of entry[1].shapes) this.shapes.append(...this.drawn(shape, labels));
    this.labels.append(...placed(labels, this.view));
  }

  drawn(shape, labels) {
    const view = this.view;
    const kind = `r-${shape.role.replaceAll(" ", "-")}`;
    const said = (at, dy = -10) => shape.label && labels.push({ at: view.toScreen(at), dy, text: shape.label });
    if (shape.type === "spot") {
      const [x, y] = view.toScreen(shape.at);
      said(shape.at);
      return [svg("circle", { class: `halo`, cx: x, cy: y, r: 7 }), svg("circle", { class: `spot ${kind}`, cx: x, cy: y, r: 7 })];
    }
    if (shape.type === "circle") {
      const [x, y] = view.toScreen(shape.at);
      const r = shape.radius * view.scale;
      if (shape.role.startsWith("reference")) {
        return [svg("circle", { class: kind, cx: x, cy: y, r })];
      }
      said([shape.at[0], shape.at[1] + shape.radius], -6);
      return [svg("circle", { class: "halo", cx: x, cy: y, r }), svg("circle", { class: kind, cx: x, cy: y, r })];
    }
    if (shape.type === "line") {
      const points = shape.points.map((point) => view.toScreen(point));
      const d = `M${points.map((point) => point.map((value) => value.toFixed(1)).join(" ")).join("L")}`;
      const middle = shape.points.length === 2
        ? [(shape.points[0][0] + shape.points[1][0]) / 2, (shape.points[0][1] + shape.points[1][1]) / 2]
        : shape.points[Math.floor(shape.points.length / 2)];
      said(middle);
      const wide = shape.width * view.scale > 3 ? { "stroke-width": shape.width * view.scale } : {};
      return [svg("path", { class: `halo`, d }), svg("path", { class: kind, d, ...wide })];
    }
    if (shape.type === "area") {
      const ring = (points) => `M${points.map((point) => view.toScreen(point).map((v) => v.toFixed(1)).join(" ")).join("L")}z`;
      said(shape.rings[0][0]);
      return [svg("path", { class: kind, "fill-rule": "evenodd", d: shape.rings.map(ring).join("") })];
    }
    return [];
  }
}

// Labels in their places, moved down where they would lie on one another.
function placed(labels, view) {
  const taken = [];
  return labels.map(({ at: [x, y], dy, text }) => {
    const short = text.length > 60 ? `${text.slice(0, 58)}…` : text;
    const wide = short.length * 6.7 + 8;
    const left = Math.min(Math.max(x - wide / 2, 4), Math.max(view.width - wide - 4, 4));
    let top = y + dy - 14;
    while (taken.some(([a, b, c]) => Math.abs(b - top) < 18 && left < a + c && a < left + wide)) top += 18;
    taken.push([left, top, wide]);
    const group = svg("g", { class: "label", transform: `translate(${left.toFixed(1)} ${top.toFixed(1)})` });
    group.append(svg("rect", { width: wide, height: 17, rx: 3 }), svg("text", { x: 4, y: 12.5 }, short));
    return group;
  });
}

// The box of a finding's evidence, large enough to see what is around it.
function boxOf(finding) {
  const xs = [finding.at[0]];
  const ys = [finding.at[1]];
  const add = ([x, y], r = 0) => { xs.push(x - r, x + r); ys.push(y - r, y + r); };
  for (const shape of finding.shapes) {
    if (shape.type === "spot") add(shape.at);
    if (shape.type === "circle" && !shape.role.startsWith("reference")) add(shape.at, shape.radius);
    if (shape.type === "line" && !["before", "after", "fence"].includes(shape.role)) for (const point of shape.points) add(point);
    if (shape.type === "area") for (const ring of shape.rings) for (const point of ring) add(point);
    if (shape.type === "heat") {
      add(shape.at);
      add([shape.at[0] + shape.rows[0].length * shape.cell, shape.at[1] + shape.rows.length * shape.cell]);
    }
  }
  const least = 1.2;
  const box = [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
  for (const i of [0, 1]) {
    const lack = Math.max(least - (box[i + 2] - box[i]), 0) / 2;
    box[i] -= lack;
    box[i + 2] += lack;
  }
  return box;
}
