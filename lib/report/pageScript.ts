/**
 * What the page does in a browser: live charts in place of the still ones as they come into view, the theme switch, the
 * tooltip. Plain script text, since it is put into the page as it is. Without it the page is complete, only still.
 */
export const pageScript = `"use strict";
(function () {
  var root = document.documentElement;
  var read = function (id) { return JSON.parse(document.getElementById(id).textContent); };
  var specs = read("chart-specs");
  var configs = read("chart-themes");
  var system = window.matchMedia("(prefers-color-scheme: dark)");
  var button = document.getElementById("theme");
  var choices = ["system", "light", "dark"];
  var choice = "system";
  var views = {};
  var theme = function () { return choice === "system" ? (system.matches ? "dark" : "light") : choice; };

  var tip = document.createElement("div");
  tip.className = "tip";
  tip.hidden = true;
  document.body.appendChild(tip);
  var showTip = function (handler, event, item, value) {
    if (value === null || value === undefined || value === "") { tip.hidden = true; return; }
    tip.textContent = "";
    var rows = typeof value === "object" ? Object.keys(value).map(function (key) { return [key, value[key]]; }) : [["", value]];
    var table = document.createElement("table");
    rows.forEach(function (row) {
      var line = table.insertRow();
      line.insertCell().textContent = row[0];
      line.insertCell().textContent = String(row[1]);
    });
    tip.appendChild(table);
    tip.hidden = false;
    var box = tip.getBoundingClientRect();
    tip.style.left = Math.max(4, Math.min(event.clientX + 14, window.innerWidth - box.width - 8)) + "px";
    tip.style.top = Math.max(4, Math.min(event.clientY + 14, window.innerHeight - box.height - 8)) + "px";
  };

  // Colours of marks on the dark background; data stay as they are.
  var paint = function (part) {
    if (typeof part === "string") return Object.prototype.hasOwnProperty.call(configs.marks, part) ? configs.marks[part] : part;
    if (Array.isArray(part)) return part.map(paint);
    if (part === null || typeof part !== "object") return part;
    var out = {};
    Object.keys(part).forEach(function (key) {
      out[key] = key === "values" || key === "datasets" || key === "config" ? part[key] : paint(part[key]);
    });
    return out;
  };
  var draw = function (figure) {
    if (!window.vegaEmbed) return;
    var name = figure.dataset.chart;
    var spec = Object.assign({}, theme() === "dark" ? paint(specs[name]) : specs[name], { config: configs[theme()] });
    var live = figure.querySelector(".live");
    if (views[name]) { views[name].finalize(); delete views[name]; }
    window.vegaEmbed(live, spec, { mode: "vega-lite", ast: true, actions: false, defaultStyle: false, renderer: "svg", tooltip: showTip })
      .then(function (result) {
        views[name] = result;
        // The whole chart is one picture with one description: its marks need no roles of their own.
        live.querySelectorAll("svg [role]").forEach(function (part) {
          part.removeAttribute("role");
          part.removeAttribute("aria-roledescription");
          part.removeAttribute("aria-label");
        });
        figure.classList.add("is-live");
      });
  };
  var figures = Array.prototype.slice.call(document.querySelectorAll("figure[data-chart]"));
  var drawn = [];
  var seen = new IntersectionObserver(function (entries) {
    entries.forEach(function (entry) {
      if (entry.isIntersecting && drawn.indexOf(entry.target) < 0) {
        drawn.push(entry.target);
        draw(entry.target);
      }
    });
  }, { rootMargin: "500px" });
  figures.forEach(function (figure) { seen.observe(figure); });

  var apply = function () {
    if (choice === "system") root.removeAttribute("data-theme"); else root.setAttribute("data-theme", choice);
    button.textContent = "Theme: " + choice;
    drawn.forEach(draw);
  };
  button.hidden = false;
  button.textContent = "Theme: system";
  button.addEventListener("click", function () {
    choice = choices[(choices.indexOf(choice) + 1) % choices.length];
    apply();
  });
  system.addEventListener("change", function () { if (choice === "system") apply(); });
  document.addEventListener("keydown", function (event) { if (event.key === "Escape") tip.hidden = true; });
  window.addEventListener("beforeprint", function () {
    document.querySelectorAll("details:not(.evidence)").forEach(function (one) {
      if (!one.open) { one.dataset.closed = "yes"; one.open = true; }
    });
  });
  window.addEventListener("afterprint", function () {
    document.querySelectorAll("details[data-closed]").forEach(function (one) { one.open = false; delete one.dataset.closed; });
  });
})();
`;
