// Deciding: which edits of a change set to keep, or how the conflicts of a merge
// are resolved. What is decided is shown at once in the rows, the grids and the
// pictures, and in the bar at the foot; nothing leaves the page but the file that
// the button saves.
(() => {
  const D = DECIDE;
  const $$ = (selector, root = document) => [...root.querySelectorAll(selector)];
  const el = (name, attributes = {}, ...inside) => {
    const e = document.createElement(name);
    for (const [k, v] of Object.entries(attributes)) if (v !== undefined && v !== false) e.setAttribute(k, v === true ? "" : v);
    return add(e, ...inside);
  };
  const add = (e, ...inside) => {
    e.append(...inside.filter(x => x !== "" && x !== undefined && x !== false));
    return e;
  };
  const most = 200; // rows that are made at a time
  document.documentElement.classList.add("js");
  $$(".noscript").forEach(e => e.remove()); // what the rows below say too

  // Numbers, written and rounded as the program does.
  const fixed = (v, d) => (v < 0 && +v.toFixed(d) ? "−" : "") + Math.abs(v).toFixed(d);
  const signed = (v, d) => (+v.toFixed(d) < 0 ? "" : "+") + fixed(v, d);
  const shown = v => v === null ? "empty" : String(v).replace(/-/g, "−");
  const counted = (n, one) => n.toLocaleString("en") + " " + one + (n === 1 ? "" : "s");
  const round = (v, step) => {
    const steps = Math.sign(v) * Math.round(Math.abs(v) / step), inverse = Math.round(1 / step);
    if (!step || !Number.isFinite(steps)) return v;
    return inverse >= 1 && Math.abs(inverse * step - 1) < 1e-12 ? steps / inverse : steps * step;
  };

  // Each choice: whether it is kept, or what is taken; what was typed, and what is
  // wrong with that. Tables hold their values as decided.
  D.choices.forEach((c, k) => {
    c.k = k;
    c.t = D.tables[c.table];
    c.bad = "";
    if (D.conflicts) {
      c.take = "";
      [c.ours, c.theirs, c.base] = c.sides;
    } else {
      c.kept = true;
      const e = JSON.parse("{" + c.raw + "}");
      if (c.typed) [c.from, c.to] = [e.from, e.to];
      [c.added, c.after] = [e.add?.id, e.after];
    }
  });
  const measured = D.choices.some(c => c.meter); // the edits rest on a drive
  const place = c => {
    if (c.words || c.cell < 0) return c.words || "as a whole";
    const t = c.t;
    return [t.x?.[c.cell % t.columns], t.y?.[Math.floor(c.cell / t.columns)]].filter(Boolean).join(", ") || "the value";
  };
  const title = c => c.t.name + ", " + place(c);
  // What a choice makes of its cell.
  const value = c => D.conflicts
    ? c.take === "typed" ? c.own ?? c.ours.value : (c[c.take] || c.ours).value
    : c.kept ? c.own ?? c.to : c.from;
  D.tables.forEach((t, i) => {
    t.i = i;
    t.choices = D.choices.filter(c => c.table === i);
    t.groups = (t.groups || []).map(name => ({ name, t, choices: [] }));
    t.choices.forEach(c => t.groups[c.group].choices.push(c));
    t.groups = t.groups.filter(g => g.choices.length);
    t.noted = t.choices.some(c => c.note);
    t.now = t.values?.slice();
    for (const c of t.choices) if (t.now && c.cell >= 0) t.now[c.cell] = value(c);
    t.decided = new Set(t.choices.filter(c => c.cell >= 0).map(c => c.cell));
    t.grids = $$(`table.grid[data-table="${i}"]`);
    // Shades run over all that its cells may hold.
    t.low = Infinity;
    t.high = -Infinity;
    t.most = 0;
    const see = (v, from) => {
      if (typeof v !== "number") return;
      t.low = Math.min(t.low, v);
      t.high = Math.max(t.high, v);
      if (typeof from === "number") t.most = Math.max(t.most, Math.abs(v - from));
    };
    t.values?.forEach(v => see(v));
    for (const c of t.choices) if (c.cell >= 0) (c.sides?.map(s => s.value) || [c.to]).forEach(v => see(v, t.values[c.cell]));
  });

  // What the decisions do. The program works out the same: view/effect.go.
  const moreFuel = () => {
    let ratio = 1, more = 0;
    for (const p of D.full_load.parts) {
      const t = D.tables[p.table], read = v => p.shares.reduce((sum, s) => sum + v[s.cell] * s.weight, 0);
      const a = read(t.values), b = read(t.now);
      if (p.how === "divide") ratio *= a / b;
      else if (p.how === "multiply") ratio *= b / a;
      else more += (b - a) * p.scale;
    }
    return 100 * (ratio - 1 + more);
  };
  const largestStep = (t, v) => {
    let largest = 0, where = "";
    const look = (i, j) => {
      const d = Math.abs(v[j] - v[i]);
      if ((t.decided.has(i) || t.decided.has(j)) && d > largest + 1e-9) [largest, where] = [d, place({ t, cell: i }) + " and " + place({ t, cell: j })];
    };
    for (let i = 0; i < v.length; i++) {
      if ((i + 1) % t.columns) look(i, i + 1);
      if (i + t.columns < v.length) look(i, i + t.columns);
    }
    return [largest, where];
  };
  const falls = v => v.some((x, i) => i && x < v[i - 1]);

  // The pictures follow.
  const curve = (svg, t) => {
    const [x0, x1, y0, y1, left, right, top, bottom] = JSON.parse(svg.dataset.frame), xs = JSON.parse(svg.dataset.x);
    const at = i => [left + (xs[i] - x0) / (x1 - x0) * (right - left), bottom - (t.now[i] - y0) / (y1 - y0) * (bottom - top)].map(v => v.toFixed(1));
    svg.querySelector("path.after").setAttribute("d", "M" + xs.map((_, i) => at(i).join(" ")).join("L"));
    $$("circle.after", svg).forEach((dot, i) => dot.setAttribute("cy", at(i)[1]));
    svg.querySelector("text.after")?.setAttribute("y", +at(xs.length - 1)[1] + 4);
  };
  const surface = (svg, t) => {
    const { rows, columns, low, high, dx, sx, sy, left, bottom, height, flip } = JSON.parse(svg.dataset.frame);
    const v = (r, c) => t.now[rows[r] * t.columns + columns[c]];
    const at = (r, c) => {
      const back = flip ? r : rows.length - 1 - r;
      return [left + c * dx + back * sx, bottom - back * sy - (v(r, c) - low) / (high - low) * height].map(x => x.toFixed(1)).join(",");
    };
    for (const q of $$(".facet", svg)) {
      const [r, c] = q.dataset.at.split(" ").map(Number), corners = [[r, c], [r, c + 1], [r + 1, c + 1], [r + 1, c]];
      const mean = corners.reduce((sum, p) => sum + v(...p), 0) / 4;
      q.setAttribute("d", "M" + corners.map(p => at(...p)).join("L") + "Z");
      q.setAttribute("class", "facet s" + level((mean - low) / (high - low)));
    }
    for (const dot of $$("circle", svg)) {
      const [r, c] = dot.dataset.at.split(" ").map(Number), [cx, cy] = at(r, c).split(",");
      dot.setAttribute("cx", cx);
      dot.setAttribute("cy", cy);
    }
  };
  const level = share => Math.round(Math.min(Math.max(share, 0), 1) * 20);
  const cellsOf = (t, i) => t.grids.map(grid => {
    const column = i % t.columns - grid.dataset.first, row = grid.tBodies[0].rows[Math.floor(i / t.columns)];
    return { name: grid.dataset.name, td: column >= 0 ? $$("td", row)[column] : undefined };
  }).filter(x => x.td);
  const paint = c => {
    const t = c.t, v = t.now[c.cell], d = v - t.values[c.cell];
    for (const { name, td } of cellsOf(t, c.cell)) {
      if (name === "after") {
        td.textContent = v === null ? "" : fixed(v, t.decimals);
        td.className = "s" + level((v - t.low) / (t.high - t.low || 1)) + (d ? " changed" : "");
      } else if (name === "difference") {
        td.textContent = d ? signed(d, t.decimals) : "·";
        td.className = d ? "d" + level((d / (t.most || 1) + 1) / 2) : "";
      }
    }
  };

  // One row or question after a decision.
  const change = c => against(c, value(c));
  const against = (c, v) => {
    const from = D.conflicts ? c.base.value : c.from;
    if (typeof v !== "number" || typeof from !== "number" || v === from) return "";
    return c.t.relative && from ? signed((v - from) / Math.abs(from) * 100, 1) + " %" : signed(v - from, c.t.decimals) + (c.t.unit ? " " + c.t.unit : "");
  };
  const showChoice = c => {
    if (c.field) {
      c.field.setAttribute("aria-invalid", c.bad ? "true" : "false");
      c.error.textContent = c.bad;
    }
    if (!c.row) return;
    if (D.conflicts) {
      const g = c.question, state = g.choices.some(x => x.bad) ? "not valid" : g.choices[0].take || "open";
      g.state.textContent = (state === "open" || state === "not valid" ? "○ " : "● ") + state;
      for (const r of g.radios) r.checked = r.value === g.choices[0].take;
      c.row.classList.toggle("done", state !== "open");
    } else {
      c.row.classList.toggle("out", !c.kept);
      c.row.classList.toggle("own", c.own !== undefined && !c.bad);
      c.box.checked = c.kept;
      if (c.changed) c.changed.textContent = c.bad ? "" : change({ ...c, kept: true });
      c.paper.textContent = c.kept ? "kept" : "left out";
    }
  };
  const tick = (box, list) => {
    const n = list.filter(c => c.kept).length;
    box.checked = n === list.length;
    box.indeterminate = n > 0 && n < list.length;
  };
  // Everything that follows from decisions about these choices.
  const show = list => {
    const touched = new Set();
    for (const c of list) {
      showChoice(c);
      if (c.cell >= 0 && c.t.now) {
        c.t.now[c.cell] = value(c);
        paint(c);
        touched.add(c.t);
      }
    }
    for (const t of touched) {
      for (const svg of $$(`svg[data-table="${t.i}"]`)) (svg.matches(".surface") ? surface : curve)(svg, t);
    }
    for (const t of D.tables) {
      if (t.box) tick(t.box, t.choices);
      for (const g of t.groups) if (g.box) tick(g.box, g.choices);
    }
    showBar();
  };

  // The bar at the foot.
  const dl = el("dl"), save = el("button", { type: "button", class: "go", id: "save" }, D.conflicts ? "Save decisions" : "Save kept edits");
  const say = el("p", { class: "vh", role: "status" });
  const fact = (name, result, under) => el("div", {}, el("dt", {}, name), el("dd", {}, result, under ? el("small", {}, under) : ""));
  const count = () => ({
    decided: D.choices.filter(c => D.conflicts ? c.take && !c.bad : c.kept).length,
    bad: D.choices.filter(c => c.bad && (D.conflicts ? c.take === "typed" : c.kept)).length,
  });
  // What the page says of all edits is no longer what is saved once one is decided otherwise.
  const all = "What the edits do", proposed = document.querySelector(`section[aria-label="${all}"] h2`);
  let later;
  const showBar = () => {
    const { decided, bad } = count(), words = [];
    const facts = [fact(D.conflicts ? "Decided" : "Kept", decided.toLocaleString("en") + " of " + D.choices.length.toLocaleString("en"),
      bad ? "▲ " + bad + " not valid" : D.conflicts ? D.choices.length - decided + " open" : "edits")];
    if (D.full_load) {
      const f = D.full_load, more = moreFuel();
      const cleared = f.learned === null ? "" : signed(100 * ((1 + more / 100) / (1 + f.learned / 100) - 1), 1) + " % once learned trim is cleared";
      facts.push(fact("Fuel at full load", signed(more, 1) + " %", cleared || (f.without ? "without " + f.without : f.place)));
      words.push("Fuel at full load " + signed(more, 1) + " %.");
    }
    for (const t of D.tables.filter(t => t.decided.size && t.now && t.now.length > 1).slice(0, 3)) {
      const write = v => fixed(v, t.decimals) + (t.unit ? " " + t.unit : ""), [now, where] = largestStep(t, t.now), [was] = largestStep(t, t.values);
      const fall = t.rises && falls(t.now) && !falls(t.values);
      const box = fact("Largest step, " + t.name, write(now), fall ? "▲ falls as pressure rises" : "was " + write(was) + (where ? "; between " + where : ""));
      facts.push(box);
      words.push("Largest step of " + t.name + " " + write(now) + (fall ? ", and it falls as pressure rises." : "."));
    }
    dl.replaceChildren(...facts);
    if (proposed) proposed.textContent = D.choices.every(c => c.kept && c.own === undefined) ? all : all + ", as they were proposed";
    save.setAttribute("aria-disabled", bad > 0 || decided === 0 ? "true" : "false");
    clearTimeout(later);
    later = setTimeout(() => {
      say.textContent = bad ? bad + " not valid: nothing is saved until it is put right." : decided + " of " + D.choices.length + (D.conflicts ? " decided. " : " kept. ") + words.join(" ");
    }, 400);
  };

  // What is typed is held to the table's limits and step at once; until it is
  // valid, what stood before counts.
  const plain = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i;
  const read = c => {
    const text = c.field.value.trim().replace("−", "-").replace(",", "."), t = c.t, unit = t.unit ? " " + t.unit : "";
    if (c.typed === "text") return { own: c.field.value };
    if (!plain.test(text) || !Number.isFinite(+text)) return { bad: text ? "not a number" : "type a value" };
    const v = c.cell >= 0 ? round(+text, t.step) : +text, [low, high] = t.limits || [-Infinity, Infinity];
    const inside = x => typeof x !== "number" || x >= low && x <= high;
    // A comma before three digits is read only where the limits leave one reading.
    if (/^[+-]?[1-9]\d{0,2},\d{3}$/.test(c.field.value.trim()) && inside(1000 * text)) return { bad: "two readings: type " + text + " or " + text.replace(".", "") };
    const before = D.conflicts ? c.sides.map(s => s.value) : [c.from];
    if (c.cell >= 0 && !inside(v) && before.every(inside)) return { bad: v < low ? "under " + shown(low) + unit : "over " + shown(high) + unit };
    return { own: v };
  };
  const typed = c => {
    const { own, bad } = read(c);
    c.bad = bad || "";
    if (D.conflicts) {
      for (const x of c.question.choices) {
        if (x.take !== "typed" && x.own === undefined && x !== c) x.own = x.ours.value;
        x.take = "typed";
      }
    } else {
      c.kept = true;
    }
    if (!bad) {
      c.own = D.conflicts || own !== c.to ? own : undefined;
      c.t.decimals = Math.min(Math.max(c.t.decimals, (String(own).split(".")[1] || "").length), 6);
    }
    show(D.conflicts ? c.question.choices : [c]);
  };
  const limitsOf = t => t.limits ? ", " + shown(t.limits[0]) + " to " + shown(t.limits[1]) + (t.unit ? " " + t.unit : "") : t.unit ? ", " + t.unit : "";
  const fieldFor = c => {
    c.error = el("span", { class: "err", id: "e" + c.k });
    c.field = el("input", { class: "field" + (c.typed === "text" ? " words" : ""), "data-k": c.k, autocomplete: "off", inputmode: c.typed === "text" ? undefined : "decimal",
      "aria-label": "New value, " + title(c) + (c.cell >= 0 ? limitsOf(c.t) : ""), "aria-describedby": "e" + c.k });
    if (!D.conflicts) c.field.value = c.own ?? c.to ?? "";
    return [c.field, c.error];
  };

  // Rows of edits, and questions about conflicts.
  const meter = c => measured && c.note ? el("span", { class: "meter m" + (c.meter || 0), "aria-hidden": "true" }) : "";
  const editRow = c => {
    c.box = el("input", { type: "checkbox", "data-k": c.k, "aria-label": title(c) });
    const label = el("label", { class: "tick" }, c.box, place(c));
    c.paper = el("span", { class: "paperonly" });
    c.row = el("tr", { "data-k": c.k }, el("th", { scope: "row", colspan: c.typed ? undefined : 5, class: c.typed ? undefined : "whole" }, label, c.paper));
    if (c.typed) {
      c.changed = el("td", { class: "n chg" });
      add(c.row, el("td", { class: "n was" }, c.from === null ? "empty" : shown(c.from)), el("td", { class: "n" }, ...fieldFor(c)), c.changed,
        c.t.noted && el("td", { class: "evi" + (measured && (c.meter || 0) < 2 ? " thin" : "") }, meter(c), c.note || ""));
    }
    showChoice(c);
    return c.row;
  };
  const editTable = t => {
    const unit = t.unit ? " [" + t.unit + "]" : "";
    const body = el("tbody"), heads = ["Keep", "Before" + unit, "After" + unit, "Change"];
    if (t.noted) heads.push(measured ? "Evidence" : "From");
    const table = el("table", { class: "edits" }, el("caption", { class: "vh" }, "Edits of " + t.name),
      el("thead", {}, el("tr", {}, ...heads.map((s, i) => el("th", { scope: "col", class: i > 0 && i < 4 ? "n" : undefined }, s)))), body);
    return [table, body];
  };
  const sideText = (c, side) => side.value !== undefined && typeof side.value === "number" && c.cell >= 0 ? fixed(side.value, c.t.decimals) : side.text;
  const compared = g => el("div", { class: "scroll", role: "group", tabindex: "0", "aria-label": g.t.name + ", the three versions" },
    el("table", { class: "rows compared" }, el("caption", { class: "vh" }, g.t.name + ", the three versions"),
      el("thead", {}, el("tr", {}, el("td"), ...g.choices.map(c => el("th", { scope: "col", class: "n" }, place(c))))),
      el("tbody", {}, ...["ours", "theirs", "base"].map(s => el("tr", {}, el("th", { scope: "row" }, s), ...g.choices.map(c => el("td", { class: "n" }, sideText(c, c[s]))))),
        el("tr", {}, el("th", { scope: "row" }, "typed"), ...g.choices.map(c => el("td", { class: "n" }, ...(c.typed ? fieldFor(c) : [])))))));
  const line = c => {
    const all = ["theirs", "ours", "base"].map(s => [s, c[s].value]), known = all.filter(([, v]) => typeof v === "number"), vs = known.map(([, v]) => v);
    const low = Math.min(...vs), high = Math.max(...vs);
    if (c.cell < 0 || known.length < 2 || low === high) return "";
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.setAttribute("class", "numberline");
    svg.setAttribute("viewBox", "0 0 300 16");
    svg.setAttribute("aria-hidden", "true");
    const draw = (name, attributes) => svg.append(Object.entries(attributes).reduce((e, [k, v]) => (e.setAttribute(k, v), e), document.createElementNS(svg.namespaceURI, name)));
    draw("path", { class: "axis", d: "M8 8H292" });
    for (const [s, v] of known) draw("circle", { class: s === "base" ? "hollow" : "full", r: 5, cx: 8 + (v - low) / (high - low) * 284, cy: 8 });
    return svg;
  };
  const questionFor = g => {
    const many = g.choices.length > 1, first = g.choices[0], mayType = g.choices.every(c => c.typed);
    g.state = el("span", { class: "state" });
    g.radios = [];
    const option = (side, ...rest) => {
      const r = el("input", { type: "radio", name: "q" + first.k, value: side });
      r.addEventListener("change", () => take(g, side));
      g.radios.push(r);
      return el("div", { class: "opt" }, el("label", { class: "tick" }, r, el("span", {}, el("b", {}, side), " ", ...rest)));
    };
    const words = s => sideText(first, first[s]) + (first.cell >= 0 && first.t.unit ? " " + first.t.unit : "");
    const sides = ["ours", "theirs", "base"].map(s => option(s, many ? "" : words(s), many || s === "base" ? "" : el("small", {}, " " + against(first, first[s].value))));
    const own = mayType ? option("typed") : "";
    if (own && !many) own.append(...fieldFor(first));
    const box = el("fieldset", { class: "question" }, el("legend", {}, many ? g.t.name + ": " + g.name + ", " + counted(g.choices.length, "conflict") : title(first)), g.state,
      many ? compared(g) : line(first), el("div", { class: "opts" }, ...sides, own));
    for (const c of g.choices) [c.row, c.question] = [box, g];
    showChoice(first);
    return box;
  };
  const take = (g, side) => {
    for (const c of g.choices) {
      c.take = side;
      c.question = g;
      if (side === "typed" && c.own === undefined) {
        if (g.choices.length > 1) c.own = c.ours.value;
        else c.bad = "type a value";
      } else if (side !== "typed") c.bad = "";
      if (side === "typed" && c.field?.value) Object.assign(c, { bad: "" }, read(c));
    }
    show(g.choices);
  };

  // so many are made at a time; the rest when asked for.
  const unroll = (into, list, make, what) => {
    let made = 0;
    const more = el("button", { type: "button", class: "small" });
    const next = () => {
      into.append(...list.slice(made, made + most).map(make));
      made = Math.min(made + most, list.length);
      more.textContent = "Show " + Math.min(most, list.length - made) + " more of " + (list.length - made).toLocaleString("en") + " " + what;
      more.hidden = made === list.length;
    };
    more.addEventListener("click", next);
    next();
    return more;
  };
  const group = (t, g, alone) => {
    const [table, body] = editTable(t), inside = el("div");
    const open = () => { if (!inside.firstChild) inside.append(table, unroll(body, g.choices, editRow, "edits")); };
    const head = el("div", { class: "block" });
    if (!alone) {
      g.box = el("input", { type: "checkbox", "aria-label": "Keep all of " + t.name + ": " + g.name });
      g.box.addEventListener("change", () => keep(g.choices, g.box.checked));
      head.append(el("label", { class: "tick" }, g.box, g.name + " (" + counted(g.choices.length, "edit") + ")"));
    }
    if (alone && g.choices.length <= most) {
      open();
      return inside;
    }
    const id = "g" + t.i + "-" + t.groups.indexOf(g);
    inside.id = id;
    inside.hidden = g.choices.length > 60;
    const fold = el("button", { type: "button", class: "small", "aria-controls": id });
    const label = () => {
      fold.textContent = (inside.hidden ? "Open " : "Fold ") + counted(g.choices.length, "edit");
      fold.setAttribute("aria-expanded", inside.hidden ? "false" : "true");
      fold.setAttribute("aria-label", fold.textContent + " of " + t.name + ": " + g.name);
    };
    fold.addEventListener("click", () => { inside.hidden = !inside.hidden; if (!inside.hidden) open(); label(); });
    label();
    if (!inside.hidden) open();
    head.append(fold);
    return el("div", {}, head, inside);
  };
  const keep = (list, kept) => { for (const c of list) c.kept = kept; show(list); };
  const allOpen = side => {
    const list = D.choices.filter(c => side === "" || !c.take);
    for (const c of list) Object.assign(c, { take: side, bad: "" });
    show(list);
  };

  for (const place of $$("div.decide")) {
    const t = D.tables[place.dataset.table], head = place.closest("section").querySelector(".head");
    if (D.conflicts) {
      place.append(unroll(place, t.groups, questionFor, "questions"));
      continue;
    }
    t.box = el("input", { type: "checkbox", "aria-label": "Keep all edits of " + t.name });
    t.box.addEventListener("change", () => keep(t.choices, t.box.checked));
    head.append(el("p", {}, el("label", { class: "tick" }, t.box, "Keep all " + counted(t.choices.length, "edit"))));
    place.append(...t.groups.map(g => group(t, g, t.groups.length === 1)));
  }
  if (D.conflicts) {
    for (const [side, text] of [["ours", "Ours for all that are open"], ["theirs", "Theirs for all that are open"], ["", "Open all again"]]) {
      const b = el("button", { type: "button", class: "small" }, text);
      b.addEventListener("click", () => allOpen(side));
      document.querySelector(".howto").append(b, " ");
    }
  }
  document.body.append(el("section", { class: "tally", "aria-label": "What the decisions do" }, el("div", {}, dl, save, say)));

  // Keys: Space is the browser's own; arrows go from row to row, and into fields.
  const of = e => D.choices[e.target.dataset?.k];
  document.addEventListener("change", e => {
    const c = of(e);
    if (!c || e.target.type === "radio") return;
    if (e.target === c.box) keep([c], c.box.checked);
    else if (c.field === e.target && !c.bad && c.own !== undefined) c.field.value = c.own;
  });
  document.addEventListener("input", e => { const c = of(e); if (c?.field === e.target) typed(c); });
  document.addEventListener("keydown", e => {
    const c = of(e);
    if (!c || !e.target.matches("input")) return;
    const field = e.target === c.field, like = $$(field ? "input.field" : "input[type=checkbox][data-k]").filter(x => x.getClientRects().length);
    const step = { ArrowDown: 1, ArrowUp: -1, Enter: 1 }[e.key];
    if (step) {
      const next = like[like.indexOf(e.target) + step];
      next?.focus();
      if (field) next?.select();
    } else if (e.key === "ArrowRight" && !field && c.field) {
      c.field.focus();
      c.field.select();
    } else if (e.key === "Escape" && field) {
      Object.assign(c, { own: undefined, bad: "" });
      c.field.value = D.conflicts ? "" : c.to ?? "";
      if (D.conflicts) for (const x of c.question.choices) x.take = "";
      show(D.conflicts ? c.question.choices : [c]);
    } else return;
    e.preventDefault();
  });
  const hot = (e, on) => {
    const c = D.choices[e.target.closest?.("tr[data-k]")?.dataset.k];
    if (c && c.cell >= 0) for (const { td } of cellsOf(c.t, c.cell)) td.classList.toggle("hot", on);
  };
  for (const [name, on] of [["pointerover", true], ["pointerout", false], ["focusin", true], ["focusout", false]]) document.addEventListener(name, e => hot(e, on));

  // What is saved. An edit's text is the program's own but for what was typed.
  const afterOf = raw => JSON.parse("{" + raw + "}").after;
  const editText = c => {
    let raw = c.raw;
    if (c.own !== undefined) {
      const note = "typed in review; " + c.to + " was proposed";
      raw = raw.replace(/"to": [^,\n]+/, () => '"to": ' + c.own)
        .replace(/"note": "((?:[^"\\]|\\.)*)"\}$/, (_, old) => '"note": "' + note + (old ? "; " + old : "") + '"}');
    }
    if (c.after) {
      let after = c.after, left;
      while ((left = D.choices.find(x => x.added === after && !x.kept))) after = afterOf(left.raw);
      raw = raw.replace(/"after": "[^"]*"$/, () => '"after": ' + JSON.stringify(after));
    }
    return "{" + raw + "}";
  };
  const decisionText = c => "{" + c.raw + (c.take === "typed" ? ', "value": ' + JSON.stringify(c.own) : ', "take": "' + c.take + '"') + "}";
  const file = list => {
    const text = D.head + list.map(c => "\n    " + (D.conflicts ? decisionText : editText)(c)).join(",") + (list.length ? "\n  " : "");
    return text + (D.conflicts ? D.tail[0] : D.tail[0] + (D.choices.length - list.length) + D.tail[1]);
  };
  save.addEventListener("click", () => {
    const { bad, decided } = count(), wrong = D.choices.find(c => c.bad && c.field && (D.conflicts ? c.take === "typed" : c.kept));
    if (bad) return wrong?.field.focus();
    if (!decided) return;
    const name = decodeURIComponent(location.pathname.split("/").pop() || "page.html").replace(/\.html?$/i, "");
    const list = D.choices.filter(c => D.conflicts ? c.take : c.kept);
    const a = el("a", { href: URL.createObjectURL(new Blob([file(list)], { type: "application/json" })), download: name + (D.conflicts ? ".decisions.json" : ".reviewed.json") });
    a.click();
    setTimeout(() => URL.revokeObjectURL(a.href), 10000);
    clearTimeout(later);
    say.textContent = "Saved " + counted(list.length, D.conflicts ? "decision" : "edit") + " in " + a.download + "; " + (D.choices.length - list.length) + (D.conflicts ? " open." : " left out.");
  });
  show([]);
})();
