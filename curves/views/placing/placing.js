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

  // The log H at which a channel has a density; null off the strip.
  function whereIs(channel, density) {
    const d = channel.density, last = d.length - 1, falls = d[0] > d[last];
    for (let i = 0; i < last; i++) {
      const [near, far] = falls ? [d[i + 1], d[i]] : [d[i], d[i + 1]];
      if (density < near || density > far || near === far) continue;
      return channel.grid[0] + ((i + (density - d[i]) / (d[i + 1] - d[i])) / last) * (channel.grid[1] - channel.grid[0]);
    }
    return null;
  }

  // The lowest and the highest index worth using for a scene; null where the strip does not show it.
  function range(strip, judged, scene) {
    const channel = strip.channels[judged];
    const ends = { white: 1, shadow: -1 };
    const keeps = {};
    for (const [tone, sign] of Object.entries(ends)) {
      const stored = channel.lost[tone];
      const known = stored && stored.value !== null;
      keeps[tone] = known ? Math.pow(2, sign * stored.value + (scene[tone] - strip.scene[tone]) / strip.stop) : null;
    }
    if (strip.kind === "negative") return { low: null, high: keeps.shadow };
    const scale = channel.dmax - channel.dmin;
    const known = channel.netKnown && channel.dmaxKnown;
    // What grey asks for where the strip reaches it; where not, it lies beyond the strip's end and may not matter.
    const end = function (keep, pair, side, of) {
      if (keep === null || !known) return null;
      const at = whereIs(channel, channel.dmin + Math.min(pair[0], pair[1] * scale));
      const grey = strip.atZero / Math.pow(10, at === null ? channel.grid[side] : at);
      return at === null && of(keep, grey) !== keep ? null : of(keep, grey);
    };
    return {
      low: end(keeps.white, strip.limits.greyThin, 1, Math.max),
      high: end(keeps.shadow, strip.limits.greyDense, 0, Math.min),
    };
  }

  // The curves at a log H, channel by channel; null off the strip.
  function read(strip, logH) {
    const found = {};
    for (const [name, channel] of Object.entries(strip.channels)) {
      const off = logH < channel.grid[0] || logH > channel.grid[1];
      const at = (values) => along(channel.grid, values, logH);
      const between = (value, band) => ({ value: value, low: band && at(band[0]), high: band && at(band[1]) });
      const density = at(channel.density);
      found[name] = off ? null : {
        density: between(density, channel.band[0][0] === null ? null : channel.band),
        net: channel.netKnown ? between(density - channel.dmin, channel.netBand) : { value: null, bound: null },
        gradient: between(at(channel.gradient), channel.gradientBand),
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
  const twoDigits = (x) => String(Number(x.toPrecision(2)));
  function usable(range) {
    const { low, high } = range;
    if (low === null && high === null) return "The usable range is not known.";
    if (low === null) return "Usable up to " + twoDigits(high) + ".";
    if (high === null) return "Usable from " + twoDigits(low) + " up.";
    if (low <= high) return "Usable from " + twoDigits(low) + " to " + twoDigits(high) + ".";
    return "No index keeps both ends: the scene is " + stops(Math.log2(low / high)) + " longer than the film holds.";
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
        const net = channel.netKnown ? (density - channel.dmin).toFixed(3) : "";
        const edge = (k) => (channel.band[k][0] === null ? "" : along(channel.grid, channel.band[k], at).toFixed(3));
        lines.push([name, at.toFixed(4), density.toFixed(3), edge(0), edge(1), net, channel.gradient[i].toFixed(3)].join(","));
      });
    }
    return lines.join("\n") + "\n";
  }
  return {
    along: along, ends: ends, number: number, place: place, range: range, read: read, sentence: sentence, shown: shown,
    table: table, trial: trial, usable: usable,
  };
})();
