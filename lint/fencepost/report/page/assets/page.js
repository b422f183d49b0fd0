// The page as a whole: the board, the list, what is shown of both, and the link to one finding.

const { boards, findings } = JSON.parse(byId("data").textContent);
const KINDS = { ground: "ground", power: "power (hatched)", signal: "signals" };

const view = new View(byId("view"), byId("copper"), () => overlay.draw());
const overlay = new Overlay(view, byId("markers"), byId("shapes"), (name) => list.open(name));
const list = byId("filters")
  ? new List(document.querySelector("ol.findings"), findings, (names) => overlay.filter(names), opened)
  : null;

let before = null; // where the board was before a finding was shown

function opened(name) {
  const finding = name && findings[name];
  view.shapes = finding ? finding.shapes : [];
  view.focus = finding ? focusOf(finding) : null;
  if (finding && view.board) {
    before = before || view.state();
    view.centre(boxOf(finding), Math.min(view.width, view.height) / 4.5);
    view.paint();
  } else if (before) {
    view.restore(before);
    view.paint();
    before = null;
  }
  byId("back").hidden = !before;
  overlay.select(name);
  history.replaceState(null, "", name ? `#${name}` : location.pathname + location.search);
}

// The layers that a finding is about; null where it is about all of them.
function focusOf(finding) {
  const names = [...finding.layers, ...finding.shapes.map((shape) => shape.layer)];
  const layers = names.map((name) => Number(/^L(\d+)$/.exec(name)?.[1])).filter(Boolean);
  return layers.length ? new Set(layers) : null;
}

function showBoard(index) {
  for (const card of document.querySelectorAll(".cards")) card.hidden = Number(card.dataset.board) !== index;
  before = null;
  const board = boards[index];
  document.querySelector(".work").classList.toggle("without-board", !board);
  if (board) switches(board);
  overlay.fill(Object.entries(findings).filter(([, one]) => one.board === index));
  if (list) {
    list.close();
    list.show(index);
  }
  view.painted = null;
  view.show(board);
}

function switches(board) {
  const row = (parent, name, label, swatch, on, change) => {
    const box = document.createElement("label");
    const input = Object.assign(document.createElement("input"), { type: "checkbox", checked: on, name });
    input.addEventListener("change", () => { change(input.checked); view.paint(); });
    box.append(input);
    if (swatch) box.append(Object.assign(document.createElement("span"), { className: `swatch ${swatch}` }));
    box.append(label);
    parent.append(box);
  };
  const put = (set, item, inside) => (inside ? set.add(item) : set.delete(item));
  const layers = byId("layers");
  const kinds = byId("kinds");
  for (const field of [layers, kinds]) field.replaceChildren(field.querySelector("legend"));
  for (let i = 1; i <= board.layers; i += 1) {
    row(layers, `L${i}`, `L${i}`, `layer-${i}`, !view.hiddenLayers.has(i), (on) => put(view.hiddenLayers, i, !on));
  }
  for (const [kind, label] of Object.entries(KINDS)) {
    row(kinds, kind, label, "", view.kinds.has(kind), (on) => put(view.kinds, kind, on));
  }
}

function jump() {
  const name = decodeURIComponent(location.hash.slice(1));
  if (!list || !Object.hasOwn(findings, name)) return;
  const index = findings[name].board;
  if (index !== list.board) {
    byId("package").value = String(index);
    showBoard(index);
  }
  document.querySelector(".work").scrollIntoView();
  list.open(name, false);
}

byId("zoom-in").addEventListener("click", () => view.zoom(1.5));
byId("zoom-out").addEventListener("click", () => view.zoom(1 / 1.5));
byId("fit").addEventListener("click", () => view.fit());
byId("back").addEventListener("click", () => list.close());
byId("package")?.addEventListener("change", (event) => showBoard(Number(event.target.value)));
for (const button of document.querySelectorAll("button.only")) {
  button.addEventListener("click", () => {
    byId("filters").reset();
    list.controls.rule.value = button.dataset.rule;
    setTimeout(() => {
      list.controls.rule.value = button.dataset.rule;
      list.refresh();
      document.querySelector(".work").scrollIntoView();
    });
  });
}

byId("view").addEventListener("pointermove", (event) => {
  if (!view.board) return;
  const box = byId("view").getBoundingClientRect();
  const [x, y] = view.toBoard(event.clientX - box.left, event.clientY - box.top);
  const [left, bottom] = view.board.corner;
  byId("cursor").textContent = `${(x + left).toFixed(2)}, ${(y + bottom).toFixed(2)} mm`;
});

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || !list) return;
  if (event.key === "Escape") list.close();
  if (event.target.closest("input, select, textarea")) return;
  const act = {
    "/": () => byId("search").focus(),
    n: () => list.step(1),
    p: () => list.step(-1),
  }[event.key];
  if (!act) return;
  event.preventDefault();
  act();
});

addEventListener("hashchange", jump);
addEventListener("beforeprint", () => {
  for (const card of document.querySelectorAll(".card")) card.open = true;
  view.paint(2.5);
});
addEventListener("afterprint", () => view.paint());
matchMedia("print").addEventListener("change", (event) => event.matches && view.paint(2.5));

if (matchMedia("(max-width: 60rem)").matches) {
  for (const card of document.querySelectorAll(".card:not(.rules):not(.unchecked)")) card.open = false;
}
showBoard(0);
jump();
document.documentElement.dataset.ready = "yes";
