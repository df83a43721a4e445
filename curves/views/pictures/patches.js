// Moves and enlarges the pictures of a scan, keeps their letters at one size, and lights a patch up with its row.
"use strict";
(function () {
  const LETTER = 12, LINE = 13, MOST = 40; // sizes [px], greatest enlargement
  const PAPER = { width: 190 * 96 / 25.4, height: 92 * 96 / 25.4 }; // the most that a picture takes of a sheet [px]
  const patches = new Map(); // by number: the patch and its row

  function stage(svg) {
    const [, , width, height] = svg.getAttribute("viewBox").split(" ").map(Number);
    const view = { x: 0, y: 0, zoom: 1 };
    const unit = () => (svg.clientWidth / width) * view.zoom; // screen pixels a picture's pixel takes

    // 1. Show the part of the picture that is asked for; letters show where their frame has room for them.
    function show(asked) {
      view.zoom = Math.min(Math.max(view.zoom, 1), MOST);
      view.x = Math.min(Math.max(view.x, 0), width - width / view.zoom);
      view.y = Math.min(Math.max(view.y, 0), height - height / view.zoom);
      svg.setAttribute("viewBox", [view.x, view.y, width / view.zoom, height / view.zoom].join(" "));
      svg.classList.toggle("enlarged", view.zoom > 1);
      const scale = asked || unit();
      for (const group of svg.querySelectorAll("g")) {
        const box = group.querySelector("polygon").getBBox(), texts = [...group.querySelectorAll("text")];
        const room = { x: box.width * scale - 6, y: box.height * scale - 4 };
        const fits = (text) => text.textContent.length * LETTER * 0.62 <= room.x;
        let shown = texts.length && fits(texts[0]) && room.y >= LINE ? 1 : 0;
        if (shown && texts.slice(1).every(fits) && room.y >= LINE * texts.length) shown = texts.length;
        texts.forEach(function (text, i) {
          text.style.display = i < shown ? "" : "none";
          text.setAttribute("font-size", LETTER / scale);
          text.setAttribute("y", box.y + box.height / 2 + ((i - (shown - 1) / 2) * LINE) / scale);
        });
      }
    }
    function enlarge(by, at) {
      const zoom = Math.min(Math.max(view.zoom * by, 1), MOST);
      const from = at || { x: view.x + width / view.zoom / 2, y: view.y + height / view.zoom / 2 };
      const share = { x: ((from.x - view.x) * view.zoom) / width, y: ((from.y - view.y) * view.zoom) / height };
      view.zoom = zoom;
      view.x = from.x - (share.x * width) / zoom;
      view.y = from.y - (share.y * height) / zoom;
      show();
    }
    function move(across, down) {
      view.x += (across * width) / view.zoom;
      view.y += (down * height) / view.zoom;
      show();
    }
    function whole() {
      view.zoom = 1;
      show();
    }
    function onPaper() {
      whole();
      show(Math.min(PAPER.width / width, PAPER.height / height));
    }
    function onto(group) {
      const box = group.querySelector("polygon").getBBox();
      view.zoom = Math.min(width / (4 * box.width), height / (4 * box.height));
      view.x = box.x + box.width / 2 - width / view.zoom / 2;
      view.y = box.y + box.height / 2 - height / view.zoom / 2;
      show();
    }

    // 2. Buttons, keys, wheel and finger.
    const acts = { "+": () => enlarge(1.6), "−": () => enlarge(1 / 1.6), whole: whole };
    const bar = document.createElement("p");
    bar.className = "zoom";
    for (const [name, act] of Object.entries(acts)) {
      const button = bar.appendChild(document.createElement("button"));
      Object.assign(button, { type: "button", textContent: name });
      button.setAttribute("aria-label", { "+": "Enlarge", "−": "Reduce", whole: "Whole picture" }[name]);
      button.addEventListener("click", act);
    }
    svg.parentElement.insertBefore(bar, svg);
    svg.setAttribute("tabindex", "0");
    const keys = { "+": acts["+"], "=": acts["+"], "-": acts["−"], 0: whole, ArrowLeft: () => move(-0.2, 0),
      ArrowRight: () => move(0.2, 0), ArrowUp: () => move(0, -0.2), ArrowDown: () => move(0, 0.2) };
    svg.addEventListener("keydown", function (event) {
      if (!keys[event.key] || event.target !== svg || event.ctrlKey || event.metaKey) return;
      event.preventDefault();
      keys[event.key]();
    });
    function placeOf(event) {
      const box = svg.getBoundingClientRect();
      return { x: view.x + (event.clientX - box.left) / unit(), y: view.y + (event.clientY - box.top) / unit() };
    }
    svg.addEventListener("wheel", function (event) {
      if (!event.ctrlKey && view.zoom === 1) return;
      event.preventDefault();
      enlarge(event.deltaY < 0 ? 1.25 : 0.8, placeOf(event));
    }, { passive: false });
    let held = null;
    svg.addEventListener("pointerdown", function (event) {
      if (view.zoom > 1) held = placeOf(event);
    });
    window.addEventListener("pointerup", () => { held = null; });
    svg.addEventListener("pointermove", function (event) {
      if (!held) return;
      const here = placeOf(event);
      view.x += held.x - here.x;
      view.y += held.y - here.y;
      show();
    });
    window.addEventListener("resize", () => show());
    window.addEventListener("beforeprint", onPaper);
    window.addEventListener("afterprint", () => show());
    show();
    return onto;
  }

  // 3. A patch and its row light each other up.
  function light(pair, on) {
    for (const one of [pair.group, pair.row]) one.classList.toggle("lit", on);
  }
  for (const svg of document.querySelectorAll("svg.overlay")) {
    const onto = stage(svg);
    for (const group of svg.querySelectorAll("g[data-patch]")) {
      const row = document.querySelector("tr[data-patch='" + group.dataset.patch + "']");
      if (row) patches.set(group.dataset.patch, { group: group, row: row, onto: onto });
    }
  }
  for (const pair of patches.values()) {
    for (const one of [pair.group, pair.row]) {
      one.addEventListener("pointerenter", () => light(pair, true));
      one.addEventListener("pointerleave", () => light(pair, false));
    }
    const name = pair.row.cells[0], button = document.createElement("button");
    Object.assign(button, { type: "button", textContent: name.textContent, title: "Show on the picture" });
    name.replaceChildren(button);
    button.addEventListener("focus", () => light(pair, true));
    button.addEventListener("blur", () => light(pair, false));
    button.addEventListener("click", function () {
      pair.onto(pair.group);
      pair.group.ownerSVGElement.scrollIntoView({ block: "nearest" });
    });
    pair.group.addEventListener("click", () => pair.row.scrollIntoView({ block: "center" }));
  }
})();
