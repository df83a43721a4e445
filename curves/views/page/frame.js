// Keeps the state of the page in its address, opens what is closed for paper, and shows the page light or dark.
"use strict";
const Address = (function () {
  // "ei=16&judged=red" for the first part of a page; the names of a further part begin with its number, "2.ei".
  const any = () => location.hash.includes("=");
  const all = () => new URLSearchParams(any() ? location.hash.slice(1) : "");
  const prefix = (part) => (/-[2-9]\d*$|-1\d+$/.test(part) ? part.match(/\d+$/)[0] + "." : "");
  const kept = all();
  let waiting = 0;
  function read(part) {
    const start = prefix(part), found = {};
    for (const [name, value] of any() ? all() : kept)
      if (start ? name.startsWith(start) : !/^\d+\./.test(name)) found[name.slice(start.length)] = value;
    return found;
  }
  // A browser takes only so many changes of the address a second.
  function write(part, state) {
    for (const [name, value] of Object.entries(state)) {
      if (value === null) kept.delete(prefix(part) + name);
      else kept.set(prefix(part) + name, value);
    }
    clearTimeout(waiting);
    waiting = setTimeout(function () {
      const text = kept.toString().replace(/%2C/g, ",");
      if (text || any()) history.replaceState(null, "", text ? "#" + text : location.pathname + location.search);
    }, 200);
  }
  return { any: any, read: read, write: write };
})();

// What is closed on the screen is printed.
(function () {
  const opened = [];
  window.addEventListener("beforeprint", function () {
    for (const closed of document.querySelectorAll("details:not([open])")) {
      closed.open = true;
      opened.push(closed);
    }
  });
  window.addEventListener("afterprint", function () {
    for (const closed of opened.splice(0)) closed.open = false;
  });
})();

(function () {
  const chooser = document.querySelector(".theme select"), root = document.documentElement;
  function choose(theme) {
    chooser.value = [...chooser.options].some((one) => one.value === theme) ? theme : "auto";
    if (chooser.value === "auto") delete root.dataset.theme;
    else root.dataset.theme = chooser.value;
  }
  chooser.addEventListener("change", function () {
    choose(chooser.value);
    Address.write("page", { theme: chooser.value === "auto" ? null : chooser.value });
  });
  window.addEventListener("hashchange", () => { if (Address.any()) choose(Address.read("page").theme); });
  choose(Address.read("page").theme);
  chooser.closest(".theme").hidden = false;
})();
