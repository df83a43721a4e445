// Colours the patches of a scene as projected, by the matrix that the page carries.
"use strict";
const Projected = (function () {
  // The colour of densities on a screen: sRGB of the light that passes, clipped.
  function colour(matrix, densities) {
    const light = densities.map((density) => Math.pow(10, -density));
    const level = function (row) {
      const linear = Math.min(Math.max(row.reduce((sum, share, i) => sum + share * light[i], 0), 0), 1);
      const encoded = linear <= 0.0031308 ? 12.92 * linear : 1.055 * Math.pow(linear, 1 / 2.4) - 0.055;
      return Math.round(255 * encoded).toString(16).padStart(2, "0");
    };
    return "#" + matrix.map(level).join("");
  }

  // The densities of each patch, in the layers' order; null where a layer is off the strip.
  function patches(strip, ei, scene) {
    const grey = Math.log10(strip.atZero / ei);
    return strip.projected.shares.map(function (share) {
      const away = share < 0 ? -share * scene.shadow : share * scene.white;
      const densities = strip.projected.channels.map(
        (name) => Placing.place(strip, strip.channels[name], "grey", grey + away).density.value);
      return { away: away, densities: densities.includes(null) ? null : densities };
    });
  }

  function show(table, strip, ei, scene) {
    const found = patches(strip, ei, scene);
    for (const row of table.tBodies[0].rows) {
      const lowest = strip.projected.channels.map((name) => (row.dataset.white === "gate" ? 0 : strip.channels[name].dmin));
      const known = row.dataset.white === "gate" || strip.projected.channels.every((name) => strip.channels[name].netKnown);
      found.forEach(function (patch, i) {
        const swatch = row.cells[i + 2].firstElementChild;
        const shown = known && patch.densities !== null;
        const words = Placing.number(patch.away / strip.stop, 1) + " stops: ";
        const tint = shown ? colour(strip.projected.matrix, patch.densities.map((density, k) => density - lowest[k])) : "";
        swatch.className = shown ? "" : "off";
        swatch.style.background = tint;
        swatch.title = words + (shown ? patch.densities.map((d) => Placing.number(d, 2)).join(", ")
          : known ? "off the strip" : "Dmin is not known");
      });
    }
  }
  return { colour: colour, patches: patches, show: show };
})();
