"use strict";
// A grid's cells share a place with their neighbours' in the same group: the
// one under the pointer or the keyboard is shown in all of them, and told in
// words below.
for (const group of document.querySelectorAll(".group")) {
  const tables = [...group.querySelectorAll(".scroll > table.grid")];
  const told = group.parentElement.querySelector("output");
  const cell = (t, r, c) => t.tBodies[0].rows[r]?.querySelectorAll("td")[c];
  let hot = [];
  const show = (r, c) => {
    hot.forEach(e => e.classList.remove("hot"));
    hot = [];
    const words = [];
    let where = "";
    for (const t of tables) {
      const td = cell(t, r, c);
      if (!td) continue;
      const row = t.tBodies[0].rows[r].querySelector("th");
      const column = t.tHead ? t.tHead.rows[t.tHead.rows.length - 1].querySelectorAll("th[scope=col]")[c] : null;
      hot.push(td);
      if (row) hot.push(row);
      if (column) hot.push(column);
      if (!where) {
        where = [[t.dataset.x, column], [t.dataset.y, row]].filter(([n, e]) => n && e)
          .map(([n, e]) => n + " " + e.textContent.trim()).join(", ");
      }
      const note = td.getAttribute("title");
      words.push(t.dataset.name + " " + (td.textContent.trim() || "empty") + (note ? " (" + note + ")" : ""));
    }
    hot.forEach(e => e.classList.add("hot"));
    if (told) told.textContent = (where ? where + ": " : "") + words.join("; ");
  };
  const place = td => {
    const tr = td.parentElement;
    return [tr.sectionRowIndex, [...tr.querySelectorAll("td")].indexOf(td)];
  };
  for (const t of tables) {
    const first = t.tBodies[0].querySelector("td");
    if (first) first.tabIndex = 0;
    t.addEventListener("pointerover", e => {
      const td = e.target.closest("td");
      if (td && t.tBodies[0].contains(td)) show(...place(td));
    });
    t.addEventListener("focusin", e => { if (e.target.matches("tbody td")) show(...place(e.target)); });
    t.addEventListener("keydown", e => {
      const step = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] }[e.key];
      if (!step || !e.target.matches("tbody td")) return;
      const [r, c] = place(e.target);
      const next = cell(t, r + step[0], c + step[1]);
      if (!next) return;
      e.preventDefault();
      e.target.tabIndex = -1;
      next.tabIndex = 0;
      next.focus();
    });
  }
}
// A chart tells its values under the pointer, or at the arrow keys.
for (const svg of document.querySelectorAll("svg[data-series]")) {
  const [x0, x1, , , left, right] = JSON.parse(svg.dataset.frame), { name, x, lines } = JSON.parse(svg.dataset.series);
  const told = svg.parentElement.querySelector("output");
  let at = 0;
  const tell = i => {
    at = Math.min(Math.max(i, 0), x.length - 1);
    told.textContent = name + " " + x[at] + ": " + lines.map(l => l.name + " " + l.y[at]).join("; ");
  };
  svg.addEventListener("pointermove", e => {
    const r = svg.getBoundingClientRect(), v = x0 + ((e.clientX - r.left) / r.width * svg.viewBox.baseVal.width - left) / (right - left) * (x1 - x0);
    tell(x.reduce((best, b, i) => Math.abs(b - v) < Math.abs(x[best] - v) ? i : best, 0));
  });
  svg.addEventListener("keydown", e => {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[e.key];
    if (step) { e.preventDefault(); tell(at + step); }
  });
}
