// The list of findings: search, filters, order, and one finding open at a time.

class List {
  constructor(root, findings, changed, opened) {
    this.root = root;
    this.findings = findings;
    this.changed = changed;
    this.opened = opened;
    this.items = new Map([...root.querySelectorAll("li.finding")].map((item) => [item.id, item]));
    this.text = new Map();
    this.place = new Map([...this.items.keys()].map((name, i) => [name, i]));
    this.board = 0;
    this.current = null;
    this.controls = { search: byId("search"), sort: byId("sort") };
    for (const key of ["rule", "severity", "net", "layer"]) this.controls[key] = byId(`by-${key}`);
    byId("filters").addEventListener("submit", (event) => event.preventDefault());
    byId("filters").addEventListener("reset", () => setTimeout(() => this.refresh()));
    byId("filters").addEventListener("input", () => this.refresh());
    root.addEventListener("click", (event) => this.clicked(event));
    root.addEventListener("keydown", (event) => this.pressed(event));
  }

  // Only the findings of one board, with filters that fit them.
  show(board) {
    this.board = board;
    const own = [...this.items.keys()].map((name) => this.findings[name]).filter((one) => one.board === board);
    const choices = {
      rule: count(own.map((one) => one.rule)),
      severity: count(own.map((one) => one.severity)),
      net: count(own.flatMap((one) => one.nets)),
      layer: count(own.flatMap((one) => one.layers)),
    };
    for (const [key, counts] of Object.entries(choices)) {
      const names = [...counts.keys()].sort(new Intl.Collator("en", { numeric: true }).compare);
      if (key === "severity") names.sort((a, b) => RANK[b] - RANK[a]);
      const options = names.map((name) => new Option(`${name} (${counts.get(name)})`, name));
      this.controls[key].replaceChildren(new Option("all", ""), ...options);
    }
    byId("filters").reset();
    this.refresh();
  }

  fits(name) {
    const finding = this.findings[name];
    const { search, rule, severity, net, layer } = this.controls;
    if (finding.board !== this.board) return false;
    if (rule.value && finding.rule !== rule.value) return false;
    if (severity.value && finding.severity !== severity.value) return false;
    if (net.value && !finding.nets.includes(net.value)) return false;
    if (layer.value && !finding.layers.includes(layer.value)) return false;
    const words = search.value.toLowerCase().split(/\s+/).filter(Boolean);
    if (!words.length) return true;
    if (!this.text.has(name)) this.text.set(name, `${name} ${this.items.get(name).textContent}`.toLowerCase());
    return words.every((word) => this.text.get(name).includes(word));
  }

  refresh() {
    const names = [...this.items.keys()].filter((name) => this.fits(name));
    const fitting = new Set(names);
    for (const [name, item] of this.items) item.hidden = !fitting.has(name);
    names.sort(this.order());
    this.root.append(...names.map((name) => this.items.get(name)));
    this.names = names;
    const all = [...this.items.keys()].filter((name) => this.findings[name].board === this.board).length;
    byId("shown").textContent = names.length === all ? `${all} findings` : `${names.length} of ${all} findings`;
    byId("unfilter").hidden = names.length === all;
    byId("none").hidden = names.length > 0;
    this.rove();
    this.changed(fitting);
  }

  order() {
    const key = this.controls.sort.value;
    const place = (a, b) => this.place.get(a) - this.place.get(b);
    const words = (pick) => (a, b) => pick(this.findings[a]).localeCompare(pick(this.findings[b]), "en", { numeric: true });
    const first = {
      severity: (a, b) => RANK[this.findings[b].severity] - RANK[this.findings[a].severity],
      file: () => 0,
      rule: words((one) => one.rule),
      net: words((one) => one.nets[0] || "\uffff"),
      worst: (a, b) => this.findings[b].worst - this.findings[a].worst,
    }[key];
    return (a, b) => first(a, b) || place(a, b);
  }

  // One stop for the tab key in the whole list: the open finding, or else the first one.
  rove(name = this.names.includes(this.current) ? this.current : this.names[0]) {
    for (const [own, item] of this.items) this.head(item).tabIndex = own === name ? 0 : -1;
  }

  head(item) { return item.querySelector("button.head"); }

  open(name, focus = true) {
    if (!this.items.has(name)) return;
    if (this.current && this.current !== name) this.fold(this.current);
    if (!this.names.includes(name)) {
      byId("filters").reset();
      this.refresh();
    }
    this.current = name;
    const item = this.items.get(name);
    item.classList.add("current");
    this.head(item).setAttribute("aria-expanded", "true");
    item.querySelector(".body").hidden = false;
    this.rove(name);
    if (focus) this.head(item).focus({ preventScroll: true });
    this.reveal(item);
    this.opened(name);
  }

  // Into sight within the list where it scrolls by itself, or else under the board, which stays at the top of the page.
  reveal(item) {
    const pane = this.root.closest(".list");
    if (pane.scrollHeight <= pane.clientHeight + 1) {
      item.scrollIntoView({ block: "start" });
      return;
    }
    const top = item.getBoundingClientRect().top - pane.getBoundingClientRect().top + pane.scrollTop;
    const covered = byId("filters").offsetHeight;
    const end = top + item.offsetHeight;
    if (top < pane.scrollTop + covered || end > pane.scrollTop + pane.clientHeight) pane.scrollTop = top - covered - 8;
  }

  fold(name) {
    const item = this.items.get(name);
    item.classList.remove("current");
    this.head(item).setAttribute("aria-expanded", "false");
    item.querySelector(".body").hidden = true;
  }

  close() {
    if (!this.current) return;
    this.fold(this.current);
    this.current = null;
    this.opened(null);
  }

  step(by) {
    const at = this.names.indexOf(this.current);
    const next = this.names[at < 0 ? (by > 0 ? 0 : this.names.length - 1) : at + by];
    if (next) this.open(next);
  }

  clicked(event) {
    const item = event.target.closest("li.finding");
    if (!item) return;
    if (event.target.closest("button.copy")) copy(event.target, item.querySelector(".plain").textContent);
    else if (event.target.closest("button.head")) {
      if (this.current === item.id) this.close();
      else this.open(item.id);
    }
  }

  pressed(event) {
    const head = event.target.closest("button.head");
    if (!head || event.ctrlKey || event.metaKey || event.altKey) return;
    const at = this.names.indexOf(head.closest("li").id);
    const to = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: this.names.length - 1 }[event.key];
    if (to === undefined || !this.names[to]) return;
    event.preventDefault();
    this.rove(this.names[to]);
    const item = this.items.get(this.names[to]);
    this.head(item).focus({ preventScroll: true });
    this.reveal(item);
  }
}

function byId(id) { return document.getElementById(id); }

function count(values) {
  const counts = new Map();
  for (const value of values) counts.set(value, (counts.get(value) || 0) + 1);
  return counts;
}

// The clipboard where the browser lets a page have it, or else the old way by a selection.
async function copy(button, text) {
  const label = "Copy as text";
  try {
    await navigator.clipboard.writeText(text);
    button.textContent = "Copied";
  } catch {
    const area = document.createElement("textarea");
    area.value = text;
    document.body.append(area);
    area.select();
    button.textContent = document.execCommand("copy") ? "Copied" : "Could not copy";
    area.remove();
    button.focus({ preventScroll: true });
  }
  setTimeout(() => { button.textContent = label; }, 1500);
}
