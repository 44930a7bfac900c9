"use strict";
// The what-if panel: Lagrange interpolation along each setting, straight lines over the root of the hours.
(function () {
  const data = JSON.parse(document.getElementById("what-if-data").textContent);
  const find = (id) => document.getElementById(id);
  const names = Object.keys(data.values);
  const roots = data.hold.map(Math.sqrt);
  const last = data.hold.length - 1;
  const [left, right, top, bottom] = data.chart;
  const hold = { key: "hold", stops: data.holdStops, own: data.ownHold, unit: "h" };
  const sliders = [hold, ...data.settings];

  function weights(setting, value) {
    const x = setting.offset === null ? value : Math.log(value + setting.offset);
    return setting.nodes.map((a, i) => setting.nodes.reduce((w, b, j) => (i === j ? w : (w * (x - b)) / (a - b)), 1));
  }

  function course(values) {
    let combined = [1];
    data.settings.forEach((setting, i) => {
      const own = weights(setting, values[i]);
      combined = combined.flatMap((w) => own.map((o) => w * o));
    });
    const found = {};
    for (const name of names) {
      found[name] = data.hold.map((_, t) => combined.reduce((sum, w, k) => sum + w * data.values[name][k * (last + 1) + t], 0));
    }
    const within = (x) => Math.min(Math.max(x, 0), 1);
    return {
      conversion: found.conversion.map(within),
      yield: found.made.map((made, t) => within(made - Math.max(Math.exp(found.vented[t]) - data.floor, 0))),
      escaped: found.escaped.map((x) => Math.max(x, 0)),
    };
  }

  function at(hours, values) {
    const x = Math.sqrt(hours);
    let k = roots.findIndex((root) => root >= x);
    if (k === 0) return values[0];
    if (k < 0) k = last;
    return values[k - 1] + ((x - roots[k - 1]) / (roots[k] - roots[k - 1])) * (values[k] - values[k - 1]);
  }

  const across = (hours) => left + (hours / data.hold[last]) * (right - left);
  const up = (share) => bottom - share * (bottom - top);
  const path = (values) => values.map((v, t) => (t ? "L" : "M") + across(data.hold[t]).toFixed(1) + " " + up(v).toFixed(1)).join("");
  const digits = (x, n) => (x >= 100 ? x.toFixed(0) : x > 0 ? x.toPrecision(n) : "0");
  const shown = (slider) => slider.stops[Number(find("set-" + slider.key).value)];

  function refresh() {
    const hours = shown(hold);
    const values = data.settings.map(shown);
    const now = course(values);
    for (const slider of sliders) {
      const words = Number(shown(slider).toPrecision(3)) + "\u00a0" + slider.unit;
      find("value-" + slider.key).textContent = words;
      find("set-" + slider.key).setAttribute("aria-valuetext", words);
    }
    const result = {
      conversion: (100 * at(hours, now.conversion)).toFixed(1) + "\u00a0%",
      yield: (100 * at(hours, now.yield)).toFixed(1) + "\u00a0%",
      grams: digits(at(hours, now.yield) * at(hours, data.grams), 2) + "\u00a0g",
      escaped: digits(at(hours, now.escaped) * at(hours, data.millimoles), 2) + "\u00a0mmol",
    };
    for (const key of Object.keys(result)) {
      if (find("result-" + key)) find("result-" + key).textContent = result[key];
    }
    find("now").setAttribute("x1", across(hours));
    find("now").setAttribute("x2", across(hours));
    find("now").setAttribute("y1", top);
    find("now").setAttribute("y2", bottom);
    const ends = { conversion: up(now.conversion[last]), yield: up(now.yield[last]) };
    const middle = (ends.conversion + ends.yield) / 2;
    const close = Math.abs(ends.conversion - ends.yield) < 14;
    const above = ends.conversion <= ends.yield ? -7 : 7;
    for (const name of ["conversion", "yield"]) {
      find("curve-" + name).setAttribute("d", path(now[name]));
      find("dot-" + name).setAttribute("cx", across(hours));
      find("dot-" + name).setAttribute("cy", up(at(hours, now[name])));
      const y = close ? middle + (name === "conversion" ? above : -above) : ends[name];
      find("name-" + name).setAttribute("y", y + 4);
    }
    find("what-if-words").textContent =
      "After " + Number(hours.toPrecision(3)) + " h, hot: conversion " + result.conversion + ", yield " + result.yield + ".";
  }

  function asRead() {
    for (const slider of sliders) find("set-" + slider.key).value = String(slider.stops.indexOf(slider.own));
    refresh();
  }

  const own = course(data.settings.map((setting) => setting.own));
  find("curve-conversion-own").setAttribute("d", path(own.conversion));
  find("curve-yield-own").setAttribute("d", path(own.yield));
  for (const slider of sliders) find("set-" + slider.key).addEventListener("input", refresh);
  find("as-read").addEventListener("click", asRead);
  find("what-if-panel").hidden = false;
  asRead();
})();
