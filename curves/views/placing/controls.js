// The controls of a strip: dial, scene, cursor, scales and downloads, and what they show in words and tables.
"use strict";
(function () {
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
  const two = (q) => [Placing.shown(q, 2), Placing.ends(q, 2)];

  // Curves, gradients and bands are those of the figures: the page holds them once.
  function drawnIn(strip) {
    const of = (name) => Drawn.of(strip.strip).find((figure) => figure.id === strip.strip + "-" + name).data;
    const lines = (figure, name) => of(figure).filter((trace) => trace.name === name && !trace.opacity)[0].y;
    for (const [name, channel] of Object.entries(strip.channels)) {
      channel.density = lines("curve", name);
      channel.gradient = lines("gradient", name);
      channel.band = of("curve").filter((trace) => trace.name === name + ", 95 % interval").map((trace) => trace.y);
    }
    return strip;
  }

  function bench(panel) {
    const strip = drawnIn(JSON.parse(panel.querySelector("script").textContent));
    const find = (selector) => panel.querySelector(selector);
    const named = (name) => find("[name=" + name + "]");
    const dial = find(".dial input[type=range]"), typed = named("typed"), back = find(".back"), cursor = find(".at");
    const fields = { white: named("white"), shadow: named("shadow") };
    const preset = named("preset"), judged = named("judged");
    const upward = named("upward"), across = named("across"), fill = named("fill");
    const projected = find(".projected");
    const scales = Scales.of(strip);
    const grids = Object.values(strip.channels).map((c) => c.grid);
    const first = Math.min(...grids.map((g) => g[0])), last = Math.max(...grids.map((g) => g[1]));
    const far = (one, ei) => Math.abs(Math.log(one[1] / ei));
    const nearest = (ei) => strip.dial.reduce((best, one, i) => (far(one, ei) < far(strip.dial[best], ei) ? i : best), 0);
    const middle = strip.dial[nearest(strip.atZero / Math.pow(10, (first + last) / 2))];
    const home = strip.set || { name: middle[0], exact: middle[1] };
    const now = { name: home.name, ei: home.exact, scene: Object.assign({}, strip.scene), judged: strip.judged };
    const reading = { at: null };
    const same = (a, b) => Math.abs(a - b) < 1e-6;
    const otherScene = () => !same(now.scene.white, strip.scene.white) || !same(now.scene.shadow, strip.scene.shadow);

    // 1. The layer over each figure that shares log H.
    const plots = () => [...document.querySelectorAll(".plot[id^='" + strip.strip + "-']")].filter((p) => p._fullLayout);
    let drag = null;
    function listen(plot) {
      const pointed = function (event) {
        const at = Layer.logHOf(plot, event);
        if (drag || at < first || at > last) return;
        reading.at = at;
        cursor.value = String(Math.round(((at - first) / (last - first)) * Number(cursor.max)));
        showReading();
        paint();
      };
      plot.addEventListener("pointermove", pointed);
      plot.addEventListener("pointerdown", pointed);
    }
    window.addEventListener("pointermove", function (event) {
      if (drag) setIndex(nearest(strip.atZero / Math.pow(10, Layer.logHOf(drag, event))));
    });
    window.addEventListener("pointerup", () => { drag = null; });
    function paint() {
      const found = Placing.trial(strip, now.judged, now.ei, now.scene);
      for (const plot of plots()) {
        if (!plot.querySelector("svg.over")) listen(plot);
        const g = Layer.over(plot);
        const hold = function (event) {
          drag = plot;
          event.preventDefault();
          event.stopPropagation();
        };
        if (plot.classList.contains("curve")) Layer.scene(g, found, strip.channels[now.judged], scales, now.judged, hold);
        if (reading.at !== null) Layer.cursor(g, reading.at);
        Layer.marks(g, scales.marks(found.grey, nearest(home.exact), g));
      }
    }

    // 2. Words and tables.
    // What of the page was looked at and what the report says in its place: the heading of these words on paper.
    const inStops = (scene) => ["white", "shadow"].map((tone) => tone + " " + Placing.number(scene[tone] / strip.stop, 1)).join(", ");
    function lookedAt() {
      const recommended = strip.set === null ? "none recommended" : "recommended: " + strip.set.name;
      const words = ["EI " + now.name + " (" + recommended + ")"];
      if (otherScene()) words.push("scene of " + inStops(now.scene) + " stops from mid-grey (the report: " + inStops(strip.scene) + ")");
      if (now.judged !== strip.judged) words.push("judged by " + now.judged + " (the report: " + strip.judged + ")");
      return words.join("; ");
    }
    function show() {
      const found = Placing.trial(strip, now.judged, now.ei, now.scene);
      const marked = (otherScene() ? " Another scene than the report's." : "") +
        (now.judged !== strip.judged ? " Judged by " + now.judged + "; the report judges by " + strip.judged + "." : "");
      find(".said").textContent = Placing.sentence(now.name, found) + marked;
      const moved = now.ei !== home.exact || marked !== "";
      panel.parentElement.classList.toggle("moved", moved);
      find(".looked-at").textContent = moved ? "Looked at, as the solid line and the dots: " + lookedAt() + "." : "";
      dial.setAttribute("aria-valuetext", "EI " + now.name);
      if (document.activeElement !== typed) typed.value = String(now.name);
      const usable = Placing.usable(Placing.range(strip, now.judged, now.scene));
      find(".usable").textContent = marked ? "Looked at so: " + usable[0].toLowerCase() + usable.slice(1) : usable;
      const body = find(".landing tbody");
      body.replaceChildren();
      for (const [tone, p] of Object.entries(found.placements))
        row(body, [tone, two(p.logH), Scales.cell(p.density, scales.now.upward), two(p.net), p.state]);
      find(".landing").tHead.rows[0].cells[2].textContent = scales.now.upward === "percent" ? "light" : "density";
      if (projected) Projected.show(projected, strip, now.ei, now.scene);
      showReading();
      paint();
      Address.write(strip.strip, state());
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
      table.tHead.rows[0].cells[1].textContent = scales.now.upward === "percent" ? "light" : "density";
      const body = table.tBodies[0];
      body.replaceChildren();
      for (const [name, q] of Object.entries(Placing.read(strip, reading.at)))
        row(body, q === null ? [name, "off the strip", "", ""]
          : [name, Scales.cell(q.density, scales.now.upward), two(q.net), two(q.gradient)]);
    }

    // 3. Controls.
    function setIndex(place) {
      setNamed(strip.dial[place]);
    }
    function setNamed([name, exact]) {
      [now.name, now.ei] = [name, exact];
      dial.value = String(nearest(exact));
      typed.value = String(name);
      show();
    }
    const goHome = () => setNamed([home.name, home.exact]);
    const valid = (ei) => ei > 0 && ei < 1e6;
    const usual = (ei) => strip.dial.find((one) => one[0] === ei) || [ei, ei];
    function setScene(white, shadow) {
      if (white > shadow && Math.abs(white) < 5 && Math.abs(shadow) < 5) now.scene = { white: white, shadow: shadow };
      for (const tone of ["white", "shadow"]) fields[tone].value = (now.scene[tone] / strip.stop).toFixed(1);
      const word = now.scene.white + "," + now.scene.shadow;
      preset.value = !otherScene() ? "" : [...preset.options].some((one) => one.value === word) ? word : "own";
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
      typed.setAttribute("aria-invalid", String(!valid(ei)));
      if (valid(ei)) setNamed(usual(ei));
    });
    if (back) back.addEventListener("click", goHome);
    for (const tone of ["white", "shadow"])
      fields[tone].addEventListener("change", function () {
        const value = fields[tone].value === "" ? now.scene[tone] : Number(fields[tone].value) * strip.stop;
        const other = Object.assign({}, now.scene, { [tone]: value });
        setScene(other.white, other.shadow);
      });
    preset.addEventListener("change", function () {
      if (preset.value === "own") return fields.white.focus();
      const [white, shadow] = preset.value === "" ? [strip.scene.white, strip.scene.shadow] : preset.value.split(",").map(Number);
      return setScene(white, shadow);
    });
    judged.addEventListener("change", () => { now.judged = judged.value; show(); });
    cursor.addEventListener("input", function () {
      reading.at = first + (Number(cursor.value) / Number(cursor.max)) * (last - first);
      showReading();
      paint();
    });
    function setScales() {
      if (upward.value === "net" && !scales.netKnown) upward.value = "density";
      if (!Drawn.ready()) return;
      scales.set(upward.value, across.value);
      const ratio = Drawn.fill(strip.strip, fill.checked);
      find(".scale-words").textContent = fill.checked && ratio
        ? "Not to scale: one density is " + Placing.number(ratio, 2) + " times as long as one log H." : "";
      show();
    }
    for (const control of [upward, across, fill]) control.addEventListener("change", setScales);
    document.addEventListener("before-paper", function () {
      scales.set("density", "log");
      show();
    });
    document.addEventListener("after-paper", setScales);

    // 4. The state in the address: what differs from the report.
    function state() {
      const own = (value, start) => (value === start ? null : String(value));
      return {
        ei: own(now.name, home.name), judged: own(now.judged, strip.judged),
        scene: otherScene() ? [now.scene.white, now.scene.shadow].map((x) => x.toFixed(4)).join(",") : null,
        upward: own(upward.value, "density"), across: own(across.value, "log"), fill: own(fill.checked, false),
      };
    }
    function restore() {
      const kept = Address.read(strip.strip);
      const chosen = (list, value, start) => {
        list.value = [...list.options].some((one) => one.value === value && !one.disabled) ? value : start;
      };
      const ei = Number(kept.ei);
      [now.name, now.ei] = valid(ei) ? usual(ei) : [home.name, home.exact];
      dial.value = String(nearest(now.ei));
      typed.value = String(now.name);
      chosen(judged, kept.judged, strip.judged);
      now.judged = judged.value;
      chosen(upward, kept.upward, "density");
      chosen(across, kept.across, "log");
      fill.checked = kept.fill === "true";
      const [white, shadow] = (kept.scene || "").split(",").map(Number);
      now.scene = Object.assign({}, strip.scene);
      setScene(white, shadow);
      setScales();
    }

    // 5. Out of the page: the figure at rest on a white ground, under the strip's title and the key of its channels.
    const title = panel.closest("article").querySelector("h1, h2").textContent;
    function picture() {
      const still = panel.parentElement.querySelector(".still svg").cloneNode(true), above = 54;
      const [width, height] = still.getAttribute("viewBox").split(" ").slice(2).map(Number);
      const size = { width: width, height: height + above };
      const ends = { viewBox: "0 0 " + width + " " + size.height, "font-family": "system-ui, sans-serif", "font-size": 12 };
      const whole = Layer.made(document.createDocumentFragment(), "svg", Object.assign(ends, size));
      Layer.made(whole, "rect", Object.assign({ fill: "#ffffff" }, size));
      Layer.made(whole, "text", { x: 16, y: 24, "font-size": 16, "font-weight": 600 }, title.slice(0, 80));
      let x = 16;
      for (const button of panel.closest("section").querySelectorAll(".key button")) {
        const swatch = whole.appendChild(button.querySelector("svg").cloneNode(true)), name = button.textContent.trim();
        const place = { x: x, y: 36, width: 26, height: 12, fill: "none", "stroke-width": 2 };
        for (const key of Object.keys(place)) swatch.setAttribute(key, place[key]);
        Layer.made(whole, "text", { x: x + 32, y: 46 }, name);
        x += 52 + 7 * name.length;
      }
      still.setAttribute("y", above);
      whole.appendChild(still);
      return { text: new XMLSerializer().serializeToString(whole), width: size.width, height: size.height };
    }
    function pixels() {
      const drawn = picture(), image = new Image(), canvas = document.createElement("canvas");
      [canvas.width, canvas.height] = [2 * drawn.width, 2 * drawn.height];
      image.src = "data:image/svg+xml;charset=utf-8," + encodeURIComponent(drawn.text);
      return image.decode().then(function () {
        canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
        return new Promise((found) => canvas.toBlob(found, "image/png"));
      });
    }
    const contents = {
      csv: () => Placing.table(strip),
      json: () => JSON.stringify({ index: now.name, scene: now.scene, judged: now.judged, placements: Placing.trial(strip, now.judged, now.ei, now.scene) }, null, 2) + "\n",
      svg: () => picture().text,
      png: pixels,
    };
    const kinds = { csv: "text/csv", json: "application/json", svg: "image/svg+xml", png: "image/png" };
    for (const button of panel.querySelectorAll("[data-take]"))
      button.addEventListener("click", function () {
        const kind = button.dataset.take;
        Promise.resolve(contents[kind]()).then(function (content) {
          const link = document.createElement("a");
          link.href = URL.createObjectURL(new Blob([content], { type: kinds[kind] }));
          link.download = title.replace(/[^\p{L}\p{N}]+/gu, "-").slice(0, 80) + "." + kind;
          link.click();
          setTimeout(() => URL.revokeObjectURL(link.href), 1000);
        });
      });
    panel.hidden = false;
    for (const option of upward.options) option.disabled = option.value === "net" && !scales.netKnown;
    find(".reading").hidden = true;
    restore();
    window.addEventListener("hashchange", () => { if (Address.any()) restore(); });
    document.addEventListener("figures-drawn", setScales);
    document.addEventListener("figures-moved", paint);
  }
  document.querySelectorAll("[data-placing]").forEach(bench);
})();
