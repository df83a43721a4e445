// Shows a strip's figures by other scales: densities above Dmin or as light, log H as stops or indexes, or to the width.
"use strict";
const Scales = (function () {
  const light = [100, 50, 25, 10, 5, 2.5, 1, 0.5, 0.25, 0.1, 0.05, 0.025, 0.01];
  const titles = {
    density: "density", net: "density above each curve's own Dmin", percent: "light passed [%]",
    stops: "stops from mid-grey at the index set", ei: "EI with mid-grey there",
  };

  function of(strip) {
    const figures = Drawn.of(strip.strip);
    const curve = figures.find((figure) => figure.id === strip.strip + "-curve");
    const now = { upward: "density", across: "log" };
    if (!curve) return { now: now, y: (name, density) => density, set: () => {}, marks: () => [], netKnown: false };
    const whole = curve.whole.y.slice();
    const start = { y: curve.data.map((trace) => trace.y), shapes: curve.layout.shapes, annotations: curve.layout.annotations };
    const names = Object.fromEntries(figures.map((figure) => [figure.id, figure.layout.xaxis.title.text]));
    const netKnown = Object.values(strip.channels).every((channel) => channel.netKnown);
    const moved = (name) => (now.upward === "net" && name ? strip.channels[name].dmin : 0);

    function setUpward(scale) {
      now.upward = scale;
      const places = start.y.flatMap((y, i) => (y ? [i] : []));
      const y = places.map((i) => start.y[i].map((v) => (v === null ? null : v - moved(curve.data[i].meta))));
      const every = y.flat().filter((v) => v !== null), judged = moved(strip.judged);
      const level = (one) => one.yref !== "paper";
      const levels = start.shapes.filter(level).map((s) => s.y0 - judged);
      const within = [Math.min(0, ...every, ...levels.map((y) => y - 0.15)) - 0.05, Math.max(...every) + 0.25];
      curve.whole.y = scale === "net" ? within : whole.slice();
      const layout = {
        shapes: start.shapes.map((s) => (level(s) ? Object.assign({}, s, { y0: s.y0 - judged, y1: s.y1 - judged }) : s)),
        annotations: start.annotations.map((a) => (level(a) ? Object.assign({}, a, { y: a.y - judged }) : a)),
        "yaxis.range": curve.whole.y.slice(),
        "yaxis.title.text": titles[scale],
        "yaxis.tickmode": scale === "percent" ? "array" : "auto",
        "yaxis.tickvals": light.map((percent) => -Math.log10(percent / 100)),
        "yaxis.ticktext": light.map(String),
      };
      Plotly.update(curve.id, { y: y }, layout, places);
      Drawn.fit(curve);
    }
    // The layer over the figures writes these scales, since the dial moves them; the marks of log H only fade.
    function setAcross(scale) {
      now.across = scale;
      for (const figure of figures) {
        const own = scale === "log";
        Plotly.relayout(figure.id, {
          "xaxis.title.text": own ? names[figure.id] : titles[scale],
          "xaxis.tickfont.color": own ? curve.layout.font.color : "rgba(0,0,0,0)",
          "xaxis.tickcolor": own ? "#77736c" : "rgba(0,0,0,0)",
        });
      }
    }
    function set(upward, across) {
      if (upward !== now.upward) setUpward(upward);
      if (across !== now.across) setAcross(across);
    }

    // The marks of the scale across: log H and text of each, so many that neighbours stay apart.
    function marks(grey, home, g) {
      if (now.across === "log") return [];
      const [first, last] = g.ends, room = now.across === "stops" ? 30 : 36;
      const pitch = now.across === "stops" ? strip.stop : 0.1;
      const each = [1, 2, 3, 6, 12].find((n) => n * pitch * g.unit >= room) || 12;
      const found = [];
      if (now.across === "stops") {
        for (let n = Math.ceil((first - grey) / strip.stop); grey + n * strip.stop <= last; n++)
          if (n % each === 0) found.push({ at: grey + n * strip.stop, text: (n > 0 ? "+" : n < 0 ? "−" : "") + Math.abs(n) });
      } else {
        strip.dial.forEach(function ([name, exact], i) {
          const at = Math.log10(strip.atZero / exact);
          if ((i - home) % each === 0 && at >= first && at <= last) found.push({ at: at, text: String(name) });
        });
      }
      return found;
    }
    return { now: now, set: set, marks: marks, netKnown: netKnown, y: (name, density) => density - moved(name) };
  }

  // A density, or its interval, as the scale upward counts it: light in per cent in place of a density.
  function asLight(q) {
    const through = (density) => (density === null || density === undefined ? density : 100 * Math.pow(10, -density));
    return { value: through(q.value), low: through(q.high), high: through(q.low),
      bound: q.bound && [q.bound[0] === "<" ? ">" : "<", through(q.bound[1])] };
  }
  function cell(q, upward) {
    const as = upward === "percent" ? asLight(q) : q, digits = upward === "percent" ? (as.value < 10 ? 2 : 1) : 2;
    return [Placing.shown(as, digits) + (upward === "percent" && as.value !== null ? " %" : ""), Placing.ends(as, digits)];
  }
  return { of: of, cell: cell };
})();
