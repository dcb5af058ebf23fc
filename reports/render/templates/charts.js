(function () {
  "use strict";
  var charts = JSON.parse(document.getElementById("chart-data").textContent);
  var dark = JSON.parse(document.getElementById("dark-colours").textContent);
  var prefersDark = window.matchMedia("(prefers-color-scheme: dark)");
  var coarse = window.matchMedia("(pointer: coarse)");
  var settings = {displayModeBar: false, displaylogo: false, showLink: false, responsive: true, doubleClick: false,
    scrollZoom: false, staticPlot: false, plotlyServerURL: "", topojsonURL: ""};
  var printing = false;
  var LABELS = 84;  // pixels of an axis' values and title below a chart

  // A copy of a chart's data with each colour swapped for its dark one.
  function dressed(value) {
    var useDark = prefersDark.matches && !printing;
    if (typeof value === "string") { return useDark && dark[value] ? dark[value] : value; }
    if (Array.isArray(value)) { return value.map(dressed); }
    if (value && typeof value === "object") {
      var copy = {};
      Object.keys(value).forEach(function (key) { copy[key] = dressed(value[key]); });
      return copy;
    }
    return value;
  }

  function draw(id) {
    var place = document.getElementById(id);
    var layout = dressed(charts[id].layout);
    var shown = place.layout && charts[id].ranges ? place.layout.xaxis.range.slice() : null;
    if (shown) { layout.xaxis.range = shown; }
    // A finger that drags scrolls the page; the buttons steer the diagram then.
    if (coarse.matches || !charts[id].ranges) { layout.dragmode = false; }
    if (printing) { layout.width = Math.min(place.clientWidth, 680); }
    return Plotly.react(place, dressed(charts[id].data), layout, settings);
  }

  function drawAll() { Object.keys(charts).forEach(draw); }

  function number(value, span) {
    var digits = Math.min(6, Math.max(0, Math.ceil(2 - Math.log(span) / Math.LN10)));
    return value.toLocaleString("en", {minimumFractionDigits: digits, maximumFractionDigits: digits});
  }

  function within(range, limits) {
    var span = Math.min(range[1] - range[0], limits[1] - limits[0]);
    span = Math.max(span, 0.001);
    var low = Math.min(Math.max(range[0], limits[0]), limits[1] - span);
    return [low, low + span];
  }

  function moved(range, go, ranges) {
    var span = range[1] - range[0], middle = (range[0] + range[1]) / 2;
    if (go === "moment" || go === "window") { return ranges[go].slice(); }
    if (go === "closer") { return [middle - span / 4, middle + span / 4]; }
    if (go === "wider") { return [middle - span, middle + span]; }
    return go === "earlier" ? [range[0] - span / 2, range[1] - span / 2] : [range[0] + span / 2, range[1] + span / 2];
  }

  function say(bar, id) {
    var range = document.getElementById(id).layout.xaxis.range, span = range[1] - range[0];
    bar.querySelector(".span").textContent = "Shown: " + number(range[0], span) + " to " + number(range[1], span) + " us";
  }

  // The value of a track at a time: held from the point before it, or straight between two points.
  function valueAt(trace, time) {
    var low = 0, high = trace.x.length - 1;
    if (time < trace.x[0] || time > trace.x[high]) { return null; }
    while (high - low > 1) {
      var middle = (low + high) >> 1;
      if (trace.x[middle] <= time) { low = middle; } else { high = middle; }
    }
    if (trace.line.shape === "hv") { return trace.customdata ? trace.customdata[low] : String(trace.y[low]); }
    var span = trace.x[high] - trace.x[low];
    var share = span > 0 ? (time - trace.x[low]) / span : 1;
    return (trace.y[low] + share * (trace.y[high] - trace.y[low])).toFixed(2);
  }

  // What every track is at the time under the pointer, with a line through all of them.
  function read(bar) {
    var id = bar.getAttribute("data-chart"), place = document.getElementById(id);
    var line = document.createElement("div"), reading = document.getElementById(id + "-reading");
    var hint = reading.textContent;
    line.className = "cursor";
    line.hidden = true;
    place.appendChild(line);
    function leave() { line.hidden = true; reading.textContent = hint; }
    place.addEventListener("mouseleave", leave);
    place.addEventListener("mousemove", function (event) {
      var range = place.layout.xaxis.range.map(Number), axis = place._fullLayout.xaxis;
      var across = event.clientX - place.getBoundingClientRect().left;
      var share = (across - axis._offset) / axis._length;
      if (share < 0 || share > 1) { leave(); return; }
      var time = range[0] + share * (range[1] - range[0]);
      var said = charts[id].data.filter(function (trace) { return trace.name; }).map(function (trace) {
        return trace.name + ": " + valueAt(trace, time);
      });
      line.hidden = false;
      line.style.left = across + "px";
      reading.textContent = "At " + number(time, range[1] - range[0]) + " us: " + said.join("; ") + ".";
    });
  }

  function steer(bar) {
    var id = bar.getAttribute("data-chart"), ranges = charts[id].ranges, place = document.getElementById(id);
    function go(where) {
      var range = within(moved(place.layout.xaxis.range.map(Number), where, ranges), ranges.window);
      return Plotly.relayout(place, {"xaxis.range": range});
    }
    bar.hidden = false;
    bar.addEventListener("click", function (event) {
      var where = event.target.getAttribute("data-go");
      if (where) { go(where); }
    });
    place.on("plotly_relayout", function () { say(bar, id); });
    place.on("plotly_doubleclick", function () { go("window"); });
    say(bar, id);
  }

  function print(on) {
    if (printing === on) { return; }
    printing = on;
    document.querySelectorAll("details").forEach(function (each) {
      if (on) { each.setAttribute("data-was", each.open ? "open" : ""); each.open = true; }
      else { each.open = each.getAttribute("data-was") === "open"; }
    });
    drawAll();
  }

  // A legend takes more rows on a narrow page; the chart grows by them, so that it does not cover the axis' words.
  function makeRoom(id) {
    var place = document.getElementById(id), first = charts[id].layout, legend = place.querySelector("g.legend");
    if (!legend) { return; }
    var bottom = Math.max(first.margin.b, LABELS + Math.ceil(legend.getBoundingClientRect().height));
    if (place.layout.margin.b === bottom) { return; }
    Plotly.relayout(place, {"margin.b": bottom, height: first.height + bottom - first.margin.b});
  }

  drawAll();
  Object.keys(charts).filter(function (id) { return charts[id].layout.showlegend; }).forEach(function (id) {
    document.getElementById(id).on("plotly_afterplot", function () { makeRoom(id); });
    makeRoom(id);
  });
  document.querySelectorAll(".steer").forEach(steer);
  document.querySelectorAll(".steer").forEach(read);
  prefersDark.addEventListener("change", drawAll);
  coarse.addEventListener("change", drawAll);
  window.addEventListener("beforeprint", function () { print(true); });
  window.addEventListener("afterprint", function () { print(false); });
}());
