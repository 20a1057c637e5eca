// Draws the plot of a review from the data beside it, in the colours of light, dark or paper,
// and lets events be chosen by weight.  Asks nothing of any network.
(function () {
  "use strict";
  var PAPER_PX = 680, PAPER_HIGH_PX = 860, NARROW_PX = 560, STEP = 0.5;
  var told = JSON.parse(document.getElementById("figure").textContent);
  var plot = document.getElementById("plot");
  var whole = null;

  function colour(name) {
    return getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim() || name;
  }

  function coloured(thing) {
    if (Array.isArray(thing)) { return thing.map(coloured); }
    if (!thing || typeof thing !== "object") { return thing; }
    var copy = {};
    Object.keys(thing).forEach(function (key) {
      var kept = thing[key];
      if (typeof kept !== "string") { copy[key] = coloured(kept); }
      else if (key === "color") { copy[key] = colour(kept); }
      else if (key === "text") {
        copy[key] = kept.replace(/color:\{(\w+)\}/g, function (_, name) { return "color:" + colour(name); });
      } else { copy[key] = kept; }
    });
    return copy;
  }

  function isShown(lane) {
    var box = document.querySelector('input[data-lane="' + lane + '"]');
    return !box || box.checked;
  }

  function traces() {
    return told.traces.map(function (one) {
      var trace = coloured(one);
      if (!trace.x) { trace.x = told.x; }
      if (one.lane !== undefined) { trace.visible = isShown(one.lane); }
      return trace;
    });
  }

  function axis(kept) {
    return Object.assign({
      color: colour("soft"), gridcolor: colour("rule"), zerolinecolor: colour("rule"),
      linecolor: colour("soft"), tickfont: { size: 12 }, fixedrange: true }, kept);
  }

  function layout(width, isPaper) {
    var made = coloured(told.layout);
    Object.keys(made).forEach(function (key) {
      if (key.indexOf("yaxis") === 0) { made[key] = axis(made[key]); }
    });
    made.xaxis = axis(made.xaxis);
    made.xaxis.fixedrange = false;
    if (width < NARROW_PX) {
      made.xaxis.nticks = 4;
      // Hours that are written out are thinned, as they would lie on one another.
      if (made.xaxis.tickvals) {
        made.xaxis.tickvals = made.xaxis.tickvals.filter(function (_, at) { return at % 3 === 0; });
        made.xaxis.ticktext = made.xaxis.ticktext.filter(function (_, at) { return at % 3 === 0; });
      }
    }
    if (whole && plot.layout && plot.layout.xaxis) {
      made.xaxis.range = plot.layout.xaxis.range.slice();
    }
    return Object.assign(made, {
      width: width, height: isPaper ? Math.min(told.height, PAPER_HIGH_PX) : told.height, margin: { l: 44, r: 8, t: 8, b: 46 },
      paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", hoversubplots: "axis",
      hovermode: width < NARROW_PX ? "closest" : "x unified",
      dragmode: width < NARROW_PX ? false : "zoom", showlegend: false,
      font: { color: colour("ink"), size: 12, family: "system-ui, sans-serif" },
      hoverlabel: { font: { size: 12, color: colour("ink") }, align: "left",
        bgcolor: colour("paper"), bordercolor: colour("soft") } });
  }

  function draw(width) {
    var done = Plotly.react(plot, traces(), layout(width || plot.clientWidth, !!width),
      { displayModeBar: false, responsive: false, doubleClick: "reset" });
    if (!whole) { whole = plot.layout.xaxis.range.slice(); }
    return done;
  }

  // A place on the axis, which the library gives as text or number, in ms.
  function ms(one) {
    if (typeof one === "number") { return one; }
    var text = String(one).replace(" ", "T");
    return Date.parse((text.length === 10 ? text + "T00:00" : text) + "Z");
  }

  function ranged(change) {
    var now = plot.layout.xaxis.range.map(ms);
    var span = now[1] - now[0], next = change(now[0], now[1], span);
    Plotly.relayout(plot, { "xaxis.range": next.map(function (one) {
      return new Date(one).toISOString().replace("Z", ""); }) });
  }

  var MOVES = {
    closer: function (a, b, s) { return [a + s * STEP / 2, b - s * STEP / 2]; },
    wider: function (a, b, s) { return [a - s * STEP, b + s * STEP]; },
    earlier: function (a, b, s) { return [a - s * STEP, b - s * STEP]; },
    later: function (a, b, s) { return [a + s * STEP, b + s * STEP]; }
  };

  document.querySelectorAll("button[data-move]").forEach(function (one) {
    one.addEventListener("click", function () {
      if (one.dataset.move === "whole") { Plotly.relayout(plot, { "xaxis.range": whole.slice() }); }
      else { ranged(MOVES[one.dataset.move]); }
    });
  });

  document.querySelectorAll("input[data-lane]").forEach(function (box) {
    function choose() {
      document.querySelectorAll('tr[data-lane="' + box.dataset.lane + '"]').forEach(function (row) {
        row.hidden = !box.checked;
      });
    }
    choose();
    box.addEventListener("change", function () { choose(); draw(); });
  });

  window.addEventListener("resize", function () { draw(); });
  window.addEventListener("beforeprint", function () { draw(PAPER_PX); });
  window.addEventListener("afterprint", function () { draw(); });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", function () { draw(); });
  matchMedia("print").addEventListener("change", function (one) { draw(one.matches ? PAPER_PX : 0); });
  draw();
})();
