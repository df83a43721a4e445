// The layer over the figures that share log H: the scene on the judged curve, the cursor, and the marks of a scale.
"use strict";
const Layer = (function () {
  const SVG = (document.querySelector("svg") || {}).namespaceURI;
  function made(parent, name, attributes, text) {
    const element = document.createElementNS(SVG, name);
    for (const key of Object.keys(attributes)) element.setAttribute(key, attributes[key]);
    if (text !== undefined) element.textContent = text;
    parent.appendChild(element);
    return element;
  }

  // The empty layer of a figure with its two scales.
  function over(plot) {
    let layer = plot.querySelector("svg.over");
    if (!layer) layer = made(plot, "svg", { class: "over", "aria-hidden": "true" });
    layer.replaceChildren();
    const x = plot._fullLayout.xaxis, y = plot._fullLayout.yaxis;
    return {
      layer: layer, left: x._offset, top: y._offset, right: x._offset + x._length, bottom: y._offset + y._length,
      ends: x.range, unit: x._length / (x.range[1] - x.range[0]),
      x: (v) => x._offset + ((v - x.range[0]) / (x.range[1] - x.range[0])) * x._length,
      y: (v) => y._offset + ((y.range[1] - v) / (y.range[1] - y.range[0])) * y._length,
    };
  }
  function logHOf(plot, event) {
    const x = plot._fullLayout.xaxis, left = plot.getBoundingClientRect().left;
    return x.range[0] + ((event.clientX - left - x._offset) / x._length) * (x.range[1] - x.range[0]);
  }

  function inside(g, v) {
    return g.x(v) >= g.left - 0.5 && g.x(v) <= g.right + 0.5;
  }
  function cursor(g, at) {
    if (inside(g, at)) made(g.layer, "path", { class: "cursor", d: "M" + g.x(at) + "," + g.top + "V" + g.bottom });
  }
  function marks(g, marks) {
    for (const mark of marks) {
      made(g.layer, "path", { class: "mark", d: "M" + g.x(mark.at) + "," + g.bottom + "v5" });
      made(g.layer, "text", { class: "mark", x: g.x(mark.at), y: g.bottom + 17, "text-anchor": "middle" }, mark.text);
    }
  }

  // The scene: mid-grey as a line to drag, tones as dots with their intervals, hatching beyond the strip.
  function scene(g, found, channel, scales, judged, drag) {
    if (Object.values(found.placements).some((p) => p.density.value === null)) hatch(g, channel, found);
    if (inside(g, found.grey)) {
      made(g.layer, "path", { class: "grey", d: "M" + g.x(found.grey) + "," + g.top + "V" + g.bottom });
      const box = { x: g.x(found.grey) - 12, y: g.top, width: 24, height: g.bottom - g.top };
      made(g.layer, "rect", Object.assign({ class: "handle" }, box)).addEventListener("pointerdown", drag);
    }
    for (const [tone, p] of Object.entries(found.placements)) {
      const x = p.logH.value;
      if (p.density.value === null || !inside(g, x)) continue;
      const net = scales.now.upward === "net" && p.net.value !== null;
      const up = net ? p.net : p.density, y = (v) => g.y(net ? v : scales.y(judged, v));
      const px = g.x(x), py = y(up.value);
      let bars = "";
      if (p.logH.low !== null) bars += "M" + g.x(p.logH.low) + "," + py + "H" + g.x(p.logH.high);
      if (up.low !== null) bars += "M" + px + "," + y(up.low) + "V" + y(up.high);
      made(g.layer, "path", { class: "reach", d: bars });
      made(g.layer, "circle", { class: "tone", cx: px, cy: py, r: 6, "data-tone": tone, "data-state": p.state });
      const beside = px > g.right - 70 ? -9 : 9;
      made(g.layer, "text", { class: "tone", x: px + beside, y: py - 9, "text-anchor": beside < 0 ? "end" : "start" },
        tone + (p.state === "holds" ? "" : ", " + p.state));
    }
  }
  function hatch(g, channel, found) {
    const before = [g.left, g.x(channel.grid[0]), (x) => x < channel.grid[0]];
    const after = [g.x(channel.grid[1]), g.right, (x) => x > channel.grid[1]];
    for (const [from, to, beyond] of [before, after]) {
      const off = Object.entries(found.placements).filter(([, p]) => p.density.value === null && beyond(p.logH.value));
      if (!off.length) continue;
      let lines = "";
      const left = Math.max(from, g.left), right = Math.min(Math.max(to, left + 3), g.right);
      for (let y = g.top; y < g.bottom; y += 8) lines += "M" + left + "," + (y + 8) + "L" + right + "," + y;
      made(g.layer, "path", { class: "hatch", d: lines });
      const end = right > (g.left + g.right) / 2;
      const at = { class: "tone", x: end ? right - 4 : left + 4, y: g.bottom - 8, "text-anchor": end ? "end" : "start" };
      made(g.layer, "text", at, off.map(([tone]) => tone).join(", ") + " off the strip");
    }
  }
  return { cursor: cursor, logHOf: logHOf, made: made, marks: marks, over: over, scene: scene };
})();
