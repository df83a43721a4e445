// Places a scene on the curves at any index. It interpolates and shifts the program's numbers and computes none itself.
"use strict";
const Placing = (function () {
  function along(ends, values, x) {
    const place = Math.min(Math.max((x - ends[0]) / (ends[1] - ends[0]), 0), 1) * (values.length - 1);
    const before = Math.min(Math.floor(place), values.length - 2);
    return values[before] + (place - before) * (values[before + 1] - values[before]);
  }
  function within(value, reach) {
    return reach === null
      ? { value: value, low: null, high: null }
      : { value: value, low: Math.min(Math.max(value - reach, 0), value), high: value + reach };
  }

  // The state of a tone by its density above Dmin and by the range of densities.
  function slideState(tone, net, scale, limits) {
    if (tone === "white") return net < limits.detail ? "gone" : net < limits.thinWhite ? "thin" : "holds";
    if (tone === "shadow") return net > limits.texture * scale ? "no texture" : "holds";
    const end = (pair) => Math.min(pair[0], pair[1] * scale);
    return net < end(limits.greyThin) ? "thin" : net > end(limits.greyDense) ? "dense" : "holds";
  }
  function negativeState(tone, net, scale, limits) {
    if (tone === "white") return net > limits.texture * scale ? "gone" : "holds";
    if (tone === "shadow") return net < limits.speedNet ? "no texture" : "holds";
    return net < limits.speedNet ? "thin" : "holds";
  }
  function state(strip, channel, tone, density) {
    const tops = channel.dmaxKnown ? [channel.dmax] : [channel.dmax, Infinity];
    const of = strip.kind === "reversal" ? slideState : negativeState;
    const found = new Set();
    for (const low of channel.dmins)
      for (const top of tops) found.add(of(tone, density - low, top - low, strip.limits));
    return found.size === 1 ? found.values().next().value : "not known";
  }

  // A tone on a channel's curve: log H, density, density above Dmin, state.
  function place(strip, channel, tone, logH) {
    const spread = channel.place || [null, null];
    const moved = (by) => (by === null ? null : logH + by);
    const at = { value: logH, low: moved(spread[0]), high: moved(spread[1]) };
    const side = logH < channel.grid[0] ? 0 : logH > channel.grid[1] ? 1 : null;
    if (side !== null && !channel.flat[side]) {
      const end = channel.ends[side];
      const lost = state(strip, channel, tone, end.density);
      return {
        logH: at,
        density: { value: null, bound: [end.side, end.limit], why: end.why },
        net: { value: null, bound: null, why: end.why },
        state: lost === "gone" || lost === "no texture" ? lost : "off the strip",
      };
    }
    const density = along(channel.grid, channel.density, logH);
    const reach = (name) => (channel.reach[name] ? along(channel.reach.at, channel.reach[name], logH) : null);
    const above = density - channel.dmin;
    return {
      logH: at,
      density: within(density, reach("density")),
      net: channel.netKnown
        ? within(above, reach("net"))
        : { value: null, bound: [">", Math.max(channel.reach.netAbove ? reach("netAbove") : above, 0)] },
      state: state(strip, channel, tone, density),
    };
  }

  // How far an index lies beyond the last that keeps a tone [stops].
  function lost(strip, stored, tone, ei, scene) {
    const sign = tone === "white" ? 1 : -1;
    const by = sign * ((scene[tone] - strip.scene[tone]) / strip.stop - Math.log2(ei));
    const moved = (x) => (x === null ? null : x + by);
    return {
      value: moved(stored.value), low: moved(stored.low), high: moved(stored.high), why: stored.why,
      bound: stored.bound && [stored.bound[0], stored.bound[1] + by],
    };
  }

  function trial(strip, judged, ei, scene) {
    const channel = strip.channels[judged];
    const grey = Math.log10(strip.atZero / ei);
    const placements = {};
    for (const [tone, at] of [["white", scene.white], ["grey", 0], ["shadow", scene.shadow]])
      placements[tone] = place(strip, channel, tone, grey + at);
    const losses = {};
    for (const tone of Object.keys(channel.lost)) losses[tone] = lost(strip, channel.lost[tone], tone, ei, scene);
    return { ei: ei, grey: grey, placements: placements, lost: losses };
  }

  // The curves at a log H, channel by channel; null off the strip.
  function read(strip, logH) {
    const found = {};
    for (const [name, channel] of Object.entries(strip.channels)) {
      const off = logH < channel.grid[0] || logH > channel.grid[1];
      found[name] = off ? null : {
        density: along(channel.grid, channel.density, logH),
        low: along(channel.grid, channel.band[0], logH),
        high: along(channel.grid, channel.band[1], logH),
        net: channel.netKnown ? along(channel.grid, channel.density, logH) - channel.dmin : null,
        gradient: along(channel.grid, channel.gradient, logH),
      };
    }
    return found;
  }

  // Words.
  const minus = (text) => text.replace(/^-(?=[\d.])/, "−").replace(/^−(0\.?0*)$/, "$1");
  const number = (x, digits) => minus(x.toFixed(digits));
  const stops = (x) => number(x, 1) + (number(x, 1) === "1.0" ? " stop" : " stops");
  function ends(q, digits) {
    return q.low === null || q.low === undefined ? "" : number(q.low, digits) + " to " + number(q.high, digits);
  }
  function shown(q, digits) {
    return q.value !== null ? number(q.value, digits) : q.bound ? q.bound[0] + " " + number(q.bound[1], digits) : "not known";
  }
  function loss(tone, q) {
    const what = tone === "white" ? "its detail" : "its texture";
    if (q.value === null) {
      if (!q.bound) return "of " + tone + " the strip does not show whether it keeps " + what;
      const [side, limit] = q.bound;
      if (side === "<" && limit <= 0) return tone + " keeps " + what + " with " + stops(-limit) + " to spare or more";
      return tone + " loses " + (side === "<" ? "less than " : "at least ") + stops(Math.max(limit, 0)) + " of " + what;
    }
    const beyond = q.value > 0;
    const far = Math.abs(q.value);
    const [low, high] = beyond ? [q.low, q.high] : [q.high === null ? null : -q.high, q.low === null ? null : -q.low];
    const interval = low === null ? "" : " (" + number(Math.max(low, 0), 1) + " to " + number(high, 1) + ")";
    return beyond
      ? tone + " has lost " + what + " by " + stops(far) + interval
      : tone + " keeps " + what + " with " + stops(far) + interval + " to spare";
  }
  function sentence(name, found) {
    const parts = Object.entries(found.lost).map(([tone, q]) => [q.value === null ? 0 : q.value, loss(tone, q)]);
    parts.sort((a, b) => b[0] - a[0]);
    const states = ["grey", "white", "shadow"].filter((tone) => !(tone in found.lost) && tone in found.placements);
    const rest = states.map((tone) => tone + ": " + found.placements[tone].state);
    return "EI " + name + ": " + parts.map((part) => part[1]).concat(rest).join("; ") + ".";
  }
  // The curves as a table: a line for each channel and log H.
  function table(strip) {
    const lines = ["channel,log_h,density,low,high,above_dmin,gradient"];
    for (const [name, channel] of Object.entries(strip.channels)) {
      const last = channel.density.length - 1;
      channel.density.forEach(function (density, i) {
        const at = channel.grid[0] + (i / last) * (channel.grid[1] - channel.grid[0]);
        const net = channel.netKnown ? (density - channel.dmin).toFixed(4) : "";
        const edge = (k) => along(channel.grid, channel.band[k], at).toFixed(4);
        lines.push([name, at.toFixed(4), density.toFixed(4), edge(0), edge(1), net, channel.gradient[i].toFixed(4)].join(","));
      });
    }
    return lines.join("\n") + "\n";
  }
  return { table: table, trial: trial, read: read, sentence: sentence, shown: shown, ends: ends, number: number };
})();

(function () {
  const SVG = (document.querySelector("svg") || {}).namespaceURI;
  function made(parent, name, attributes, text) {
    const element = document.createElementNS(SVG, name);
    for (const key of Object.keys(attributes)) element.setAttribute(key, attributes[key]);
    if (text !== undefined) element.textContent = text;
    parent.appendChild(element);
    return element;
  }
  function row(body, cells) {
    const line = body.insertRow();
    cells.forEach(function (cell, i) {
      const box = i ? line.insertCell() : line.appendChild(Object.assign(document.createElement("th"), { scope: "row" }));
      const [text, interval] = Array.isArray(cell) ? cell : [cell, ""];
      box.textContent = text;
      if (interval) {
        const small = box.appendChild(document.createElement("span"));
        small.className = "interval";
        small.textContent = " " + interval;
      }
    });
  }

  function bench(panel) {
    const strip = JSON.parse(panel.querySelector("script").textContent);
    const find = (selector) => panel.querySelector(selector);
    const dial = find("input[type=range]"), typed = find("[name=typed]"), back = find(".back"), cursor = find(".at");
    const fields = { white: find("[name=white]"), shadow: find("[name=shadow]") };
    const preset = find("[name=preset]"), judged = find("[name=judged]");
    const grids = Object.values(strip.channels).map((c) => c.grid);
    const first = Math.min(...grids.map((g) => g[0])), last = Math.max(...grids.map((g) => g[1]));
    const nearest = (ei) =>
      strip.dial.reduce((best, one, i) => (Math.abs(Math.log(one[1] / ei)) < Math.abs(Math.log(strip.dial[best][1] / ei)) ? i : best), 0);
    const middle = strip.dial[nearest(strip.atZero / Math.pow(10, (first + last) / 2))];
    const home = strip.set || { name: middle[0], exact: middle[1] };
    const now = { name: home.name, ei: home.exact, scene: Object.assign({}, strip.scene), judged: strip.judged };
    const reading = { at: null };

    // 1. The layer over each figure that shares log H.
    const plots = () => [...document.querySelectorAll(".plot[id^='" + strip.strip + "-']")].filter((p) => p._fullLayout);
    function over(plot) {
      let layer = plot.querySelector("svg.over");
      if (!layer) {
        layer = made(plot, "svg", { class: "over", "aria-hidden": "true" });
        plot.addEventListener("pointermove", (event) => pointed(plot, event));
        plot.addEventListener("pointerdown", (event) => pointed(plot, event));
      }
      layer.replaceChildren();
      const x = plot._fullLayout.xaxis, y = plot._fullLayout.yaxis;
      return {
        layer: layer, left: x._offset, top: y._offset, right: x._offset + x._length, bottom: y._offset + y._length,
        x: (v) => x._offset + ((v - x.range[0]) / (x.range[1] - x.range[0])) * x._length,
        y: (v) => y._offset + ((y.range[1] - v) / (y.range[1] - y.range[0])) * y._length,
      };
    }
    function logHOf(plot, event) {
      const x = plot._fullLayout.xaxis, left = plot.getBoundingClientRect().left;
      return x.range[0] + ((event.clientX - left - x._offset) / x._length) * (x.range[1] - x.range[0]);
    }
    function pointed(plot, event) {
      const at = logHOf(plot, event);
      if (drag || at < first || at > last) return;
      reading.at = at;
      cursor.value = String(Math.round(((at - first) / (last - first)) * Number(cursor.max)));
      showReading();
      paint();
    }

    // 2. Mid-grey follows the finger.
    let drag = null;
    function dragged(event) {
      if (drag) setIndex(nearest(strip.atZero / Math.pow(10, logHOf(drag, event))));
    }
    window.addEventListener("pointermove", dragged);
    window.addEventListener("pointerup", () => { drag = null; });

    function paint() {
      const found = Placing.trial(strip, now.judged, now.ei, now.scene);
      for (const plot of plots()) {
        const g = over(plot);
        const inside = (v) => g.x(v) >= g.left - 0.5 && g.x(v) <= g.right + 0.5;
        if (plot.classList.contains("curve")) paintScene(g, found, inside, plot);
        if (reading.at !== null && inside(reading.at))
          made(g.layer, "path", { class: "cursor", d: "M" + g.x(reading.at) + "," + g.top + "V" + g.bottom });
      }
    }
    function paintScene(g, found, inside, plot) {
      const channel = strip.channels[now.judged];
      Object.values(found.placements).some((p) => p.state === "off the strip" || p.density.value === null) && hatch(g, channel, found);
      if (inside(found.grey)) {
        made(g.layer, "path", { class: "grey", d: "M" + g.x(found.grey) + "," + g.top + "V" + g.bottom });
        const handle = made(g.layer, "rect", { class: "handle", x: g.x(found.grey) - 12, y: g.top, width: 24, height: g.bottom - g.top });
        handle.addEventListener("pointerdown", function (event) {
          drag = plot;
          event.preventDefault();
          event.stopPropagation();
        });
      }
      for (const [tone, p] of Object.entries(found.placements)) {
        const x = p.logH.value;
        if (p.density.value === null || !inside(x)) continue;
        const px = g.x(x), py = g.y(p.density.value);
        let bars = "";
        if (p.logH.low !== null) bars += "M" + g.x(p.logH.low) + "," + py + "H" + g.x(p.logH.high);
        if (p.density.low !== null) bars += "M" + px + "," + g.y(p.density.low) + "V" + g.y(p.density.high);
        made(g.layer, "path", { class: "reach", d: bars });
        made(g.layer, "circle", { class: "tone", cx: px, cy: py, r: 6, "data-tone": tone, "data-state": p.state });
        const beside = px > g.right - 70 ? -9 : 9;
        made(g.layer, "text", { class: "tone", x: px + beside, y: py - 9, "text-anchor": beside < 0 ? "end" : "start" },
          tone + (p.state === "holds" ? "" : ", " + p.state));
      }
    }
    function hatch(g, channel, found) {
      for (const [from, to, beyond] of [[g.left, g.x(channel.grid[0]), (x) => x < channel.grid[0]], [g.x(channel.grid[1]), g.right, (x) => x > channel.grid[1]]]) {
        const off = Object.entries(found.placements).filter(([, p]) => p.density.value === null && beyond(p.logH.value));
        if (!off.length) continue;
        let lines = "";
        const left = Math.max(from, g.left), right = Math.min(Math.max(to, left + 3), g.right);
        for (let y = g.top; y < g.bottom; y += 8) lines += "M" + left + "," + (y + 8) + "L" + right + "," + y;
        made(g.layer, "path", { class: "hatch", d: lines });
        const end = right > (g.left + g.right) / 2;
        made(g.layer, "text", { class: "tone", x: end ? right - 4 : left + 4, y: g.bottom - 8, "text-anchor": end ? "end" : "start" },
          off.map(([tone]) => tone).join(", ") + " off the strip");
      }
    }

    // 3. Words and tables.
    function show() {
      const found = Placing.trial(strip, now.judged, now.ei, now.scene);
      const other = now.scene.white !== strip.scene.white || now.scene.shadow !== strip.scene.shadow;
      const marked = (other ? " Another scene than the report's." : "") +
        (now.judged !== strip.judged ? " Judged by " + now.judged + "; the report judges by " + strip.judged + "." : "");
      find(".said").textContent = Placing.sentence(now.name, found) + marked;
      panel.classList.toggle("moved", now.ei !== home.exact || marked !== "");
      dial.setAttribute("aria-valuetext", "EI " + now.name);
      if (document.activeElement !== typed) typed.value = String(now.name);
      const body = find(".landing tbody");
      body.replaceChildren();
      for (const [tone, p] of Object.entries(found.placements))
        row(body, [tone, [Placing.shown(p.logH, 2), Placing.ends(p.logH, 2)], [Placing.shown(p.density, 2), Placing.ends(p.density, 2)],
          [Placing.shown(p.net, 2), Placing.ends(p.net, 2)], p.state]);
      showReading();
      paint();
    }
    function showReading() {
      const table = find(".reading");
      table.hidden = reading.at === null;
      if (table.hidden) return;
      const grey = Math.log10(strip.atZero / now.ei), away = Placing.number((reading.at - grey) / strip.stop, 1);
      const words = "Log H " + Placing.number(reading.at, 2) + ", " + away + " stops from mid-grey at EI " + now.name +
        "; mid-grey here: EI " + Number((strip.atZero / Math.pow(10, reading.at)).toPrecision(3));
      table.caption.textContent = words;
      cursor.setAttribute("aria-valuetext", words);
      const body = table.tBodies[0];
      body.replaceChildren();
      for (const [name, q] of Object.entries(Placing.read(strip, reading.at)))
        row(body, q === null ? [name, "off the strip", "", ""] : [name, [Placing.number(q.density, 2), Placing.ends(q, 2)],
          q.net === null ? "not known" : Placing.number(q.net, 2), Placing.number(q.gradient, 2)]);
    }

    // 4. Controls.
    function setIndex(place) {
      [now.name, now.ei] = strip.dial[place];
      dial.value = String(place);
      typed.value = String(now.name);
      show();
    }
    function goHome() {
      [now.name, now.ei] = [home.name, home.exact];
      dial.value = String(nearest(home.exact));
      typed.value = String(now.name);
      show();
    }
    function setScene() {
      for (const tone of ["white", "shadow"]) fields[tone].value = (now.scene[tone] / strip.stop).toFixed(1);
      show();
    }
    dial.addEventListener("input", () => setIndex(Number(dial.value)));
    dial.addEventListener("keydown", function (event) {
      const step = { PageUp: 3, PageDown: -3 }[event.key];
      if (event.key !== "Home" && !step) return;
      event.preventDefault();
      if (step) setIndex(Math.min(Math.max(Number(dial.value) + step, 0), strip.dial.length - 1));
      else goHome();
    });
    typed.addEventListener("change", function () {
      const ei = Number(typed.value.replace(",", "."));
      typed.setAttribute("aria-invalid", String(!(ei > 0 && ei < 1e6)));
      if (!(ei > 0 && ei < 1e6)) return;
      const usual = strip.dial.find((one) => one[0] === ei);
      [now.name, now.ei] = usual || [ei, ei];
      dial.value = String(nearest(now.ei));
      show();
    });
    if (back) back.addEventListener("click", goHome);
    for (const tone of ["white", "shadow"])
      fields[tone].addEventListener("change", function () {
        const value = Number(fields[tone].value) * strip.stop;
        const other = Object.assign({}, now.scene, { [tone]: value });
        if (fields[tone].value !== "" && Math.abs(value) < 5 && other.white > other.shadow) {
          now.scene = other;
          preset.value = "own";
        }
        setScene();
      });
    preset.addEventListener("change", function () {
      const [white, shadow] = preset.value.split(",").map(Number);
      if (preset.value === "") now.scene = Object.assign({}, strip.scene);
      else if (preset.value !== "own") now.scene = { white: white, shadow: shadow };
      setScene();
    });
    judged.addEventListener("change", () => { now.judged = judged.value; show(); });
    cursor.addEventListener("input", function () {
      reading.at = first + (Number(cursor.value) / Number(cursor.max)) * (last - first);
      showReading();
      paint();
    });
    // 5. Out of the page.
    const contents = {
      csv: () => Placing.table(strip),
      json: () => JSON.stringify({ index: now.name, scene: now.scene, judged: now.judged, placements: Placing.trial(strip, now.judged, now.ei, now.scene) }, null, 2) + "\n",
      svg: () => new XMLSerializer().serializeToString(panel.parentElement.querySelector(".still svg")),
    };
    const kinds = { csv: "text/csv", json: "application/json", svg: "image/svg+xml" };
    for (const button of panel.querySelectorAll("[data-take]"))
      button.addEventListener("click", function () {
        const kind = button.dataset.take;
        const link = document.createElement("a");
        link.href = URL.createObjectURL(new Blob([contents[kind]()], { type: kinds[kind] }));
        link.download = document.title.replace(/[^\p{L}\p{N}]+/gu, "-").slice(0, 80) + "." + kind;
        link.click();
        setTimeout(() => URL.revokeObjectURL(link.href), 1000);
      });
    panel.hidden = false;
    find(".reading").hidden = true;
    dial.value = String(nearest(home.exact));
    judged.value = now.judged;
    preset.value = "";
    setScene();
    document.addEventListener("figures-drawn", paint);
    document.addEventListener("figures-moved", paint);
  }
  document.querySelectorAll("[data-placing]").forEach(bench);
})();
