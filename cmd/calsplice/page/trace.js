// Trace: values under the cursor, and a range of time chosen by dragging.
(() => {
  const svg = document.querySelector("svg.trace");
  const data = JSON.parse(svg.dataset.trace);
  const told = svg.closest("section").querySelector("output");
  const n = data.channels[0].least.length;
  const box = { x: 70, w: 900 };
  let from = 0, to = n;
  const cursor = svg.querySelector(".cursor"), brush = svg.querySelector(".brush");
  const bucket = e => {
    const r = svg.getBoundingClientRect();
    const x = (e.clientX - r.left) / r.width * svg.viewBox.baseVal.width;
    return Math.floor(from + Math.min(Math.max((x - box.x) / box.w, 0), 1) * (to - from - 1e-9));
  };
  const px = i => box.x + (i - from) / (to - from) * box.w;
  const day = t => {
    const ms = Math.round(t * 1000);
    return new Date((ms % 864e5 + 864e5) % 864e5).toISOString().slice(11, 23).replace(/\.?0+$/, "");
  };
  const time = t => data.ofDay ? day(Math.round((t + data.ahead) * 100) / 100) : t.toFixed(2) + " s";
  const word = (c, i) => {
    const a = c.least[i], b = c.largest[i];
    return c.name + " " + (a === null ? "–" : a === b ? a : a + " to " + b) + (c.unit ? " " + c.unit : "");
  };
  const move = i => {
    at = Math.min(Math.max(i, from), to - 1);
    cursor.setAttribute("x1", px(at + .5));
    cursor.setAttribute("x2", px(at + .5));
    cursor.removeAttribute("visibility");
    told.textContent = time(data.start + at * data.width) + ": " + data.channels.map(c => word(c, at)).join("; ");
  };
  // Round times, about ten of them, as the program chooses them.
  const steps = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400];
  const clock = (t, step) => data.ofDay ? (step >= 60 ? day(t).slice(0, 5) : day(t)) : step >= 60 ? (t / 60).toFixed(0) + " min"
    : step >= 1 ? Math.floor(t / 60) + ":" + String(Math.floor(t % 60)).padStart(2, "0") : t.toFixed(1) + " s";
  const ticks = () => {
    const g = svg.querySelector(".ticks"), y = +g.dataset.y, a = data.start + data.ahead + from * data.width, b = data.start + data.ahead + to * data.width;
    const step = steps.find(s => s >= (b - a) / 11) || steps.at(-1);
    g.replaceChildren();
    for (let k = Math.ceil(a / step); k * step <= b && g.childElementCount < 60; k++) {
      const x = px((k * step - data.ahead - data.start) / data.width);
      for (const [name, attributes, text] of [["path", { class: "axis", d: "M" + x + " " + y + "v5" }, ""], ["text", { x, y: y + 16, "text-anchor": "middle" }, clock(k * step, step)]]) {
        const e = document.createElementNS(svg.namespaceURI, name);
        for (const [n, v] of Object.entries(attributes)) e.setAttribute(n, v);
        e.textContent = text;
        g.append(e);
      }
    }
  };
  const draw = () => {
    svg.querySelectorAll("g.channel").forEach((g, k) => {
      const c = data.channels[k], top = +g.dataset.top, high = +g.dataset.height;
      const y = v => (top + high - (v - c.low) / (c.high - c.low) * high).toFixed(1);
      let d = "";
      for (let i = from; i < to; i++) {
        if (c.least[i] === null) continue;
        let j = i;
        while (j + 1 < to && c.least[j + 1] !== null) j++;
        let up = "", down = "";
        for (let m = i; m <= j; m++) {
          up += (m > i ? "L" : "M") + px(m + .5).toFixed(1) + " " + y(c.largest[m]);
          down = "L" + px(m + .5).toFixed(1) + " " + y(c.least[m]) + down;
        }
        d += up + down + "Z";
        i = j;
      }
      g.querySelector(".band").setAttribute("d", d);
    });
    svg.querySelectorAll(".event").forEach(e => {
      const a = (+e.dataset.start - data.start) / data.width, b = (+e.dataset.end - data.start) / data.width;
      const left = Math.max(px(a), box.x), right = Math.min(px(b), box.x + box.w);
      e.setAttribute("d", `M${left} 0H${Math.max(right, left)}V${svg.querySelector(".ticks").dataset.y}H${left}Z`);
    });
    ticks();
  };
  let at = 0, pressed = null;
  svg.addEventListener("pointerdown", e => { pressed = bucket(e); svg.setPointerCapture(e.pointerId); });
  svg.addEventListener("pointermove", e => {
    const i = bucket(e);
    move(i);
    if (pressed === null) return;
    brush.removeAttribute("visibility");
    brush.setAttribute("x", px(Math.min(i, pressed)));
    brush.setAttribute("width", Math.abs(px(i) - px(pressed)));
  });
  const zoom = (a, b) => { from = Math.max(a, 0); to = Math.min(b, n); draw(); move(at); };
  svg.addEventListener("pointerup", e => {
    const i = bucket(e), a = Math.min(i, pressed), b = Math.max(i, pressed);
    brush.setAttribute("visibility", "hidden");
    pressed = null;
    if (b - a >= 4) zoom(a, b);
  });
  svg.addEventListener("dblclick", () => zoom(0, n));
  svg.addEventListener("keydown", e => {
    const span = to - from;
    const keys = {
      ArrowLeft: () => move(at - 1), ArrowRight: () => move(at + 1),
      "+": () => span >= 8 && zoom(Math.round(at - span / 4), Math.round(at + span / 4)),
      "-": () => zoom(Math.round(at - span), Math.round(at + span)), Escape: () => zoom(0, n),
    };
    if (keys[e.key]) { e.preventDefault(); keys[e.key](); }
  });
})();
