/* Moves fixed thresholds over the decisions that the page carries, and tells what would have
   been rewarded. The rules are those of the replay (see workflow/aftersit/replay/logic.py). */
"use strict";

/* Steps of each condition, laid out block after block. */
function unpacked(data) {
  return data.conditions.map((c) => Int8Array.from(atob(c.steps), (sign) => sign.charCodeAt(0)));
}

/* Whether each decision would have been rewarded: 1 yes, 0 no, -1 not known.
   The reward starts anew in each block and after all that is not known. */
function rewarded(data, steps, moves) {
  const total = data.blocks.reduce((sum, block) => sum + block.n, 0);
  const states = new Int8Array(total).fill(-1);
  let row = 0;
  for (const block of data.blocks) {
    let on = false, held = 0, failed = 0;
    for (const stop = row + block.n; row < stop; row += 1) {
      if (steps[0][row] === data.notKnown) {
        on = false; held = 0; failed = 0;
        continue;
      }
      const met = steps.reduce((count, one, i) => count + (one[row] >= moves[i]), 0);
      if (met >= data.needed) { held += 1; failed = 0; } else { failed += 1; held = 0; }
      if (held > data.onsetSteps) on = true;
      if (failed > data.releaseSteps) on = false;
      states[row] = on ? 1 : 0;
    }
  }
  return states;
}

/* When decision i of a block begins to hold. */
function startOf(data, block, i) {
  if (i === 0) return block.firstS;
  return i === block.n ? block.stopS : block.gridS + i * data.updateS;
}

/* Unbroken stretches of one block in one state, as [start, stop] in seconds. */
function stretches(data, block, states, state) {
  const found = [];
  let from = null;
  for (let i = 0; i <= block.n; i += 1) {
    const inside = i < block.n && states[i] === state;
    if (inside && from === null) from = startOf(data, block, i);
    if (!inside && from !== null) {
      found.push([from, startOf(data, block, i)]);
      from = null;
    }
  }
  return found;
}

function lengths(spans) { return spans.map(([start, stop]) => stop - start); }
function sum(values) { return values.reduce((total, value) => total + value, 0); }

/* Time in target, bouts and the longest of them: of all blocks, then of each. */
function told(data, states) {
  let first = 0;
  const blocks = data.blocks.map((block) => {
    const own = states.subarray(first, first + block.n);
    first += block.n;
    const bouts = lengths(stretches(data, block, own, 1));
    const rewardS = sum(bouts);
    return { rewardS, knownS: rewardS + sum(lengths(stretches(data, block, own, 0))), bouts };
  });
  const all = {
    rewardS: sum(blocks.map((b) => b.rewardS)),
    knownS: sum(blocks.map((b) => b.knownS)),
    bouts: blocks.flatMap((b) => b.bouts),
  };
  return [all, ...blocks].map((b) => ({
    share: b.knownS > 0 ? b.rewardS / b.knownS : null,
    bouts: b.bouts.length,
    longestS: b.bouts.length ? Math.max(...b.bouts) : null,
  }));
}

const MINUS = "\u2212", DASH = "\u2014", SPACE = "\u00a0";

function percent(share) {
  if (share === null) return DASH;
  if (share > 0 && share < 0.005) return `under 1${SPACE}%`;
  if (share >= 0.995 && share < 1) return `over 99${SPACE}%`;
  return `${(share * 100).toFixed(0)}${SPACE}%`;
}

function duration(seconds) {
  if (seconds === null) return DASH;
  if (seconds < 10) return `${seconds.toFixed(1)}${SPACE}s`;
  if (seconds < 59.5) return `${seconds.toFixed(0)}${SPACE}s`;
  const whole = Math.round(seconds), rest = whole % 60;
  return `${Math.floor(whole / 60)}${SPACE}min${rest ? ` ${rest}${SPACE}s` : ""}`;
}

function decibels(value) {
  const size = Math.abs(value).toFixed(1);
  return `${value > 0 ? "+" : value < 0 ? MINUS : ""}${size}${SPACE}dB`;
}

function movedWords(db) {
  if (db === 0) return "as it was";
  return `${decibels(Math.abs(db)).replace("+", "")} ${db > 0 ? "stricter" : "easier"}`;
}

function clock(seconds) {
  const whole = Math.max(0, Math.round(seconds));
  return `${String(Math.floor(whole / 60)).padStart(2, "0")}:${String(whole % 60).padStart(2, "0")}`;
}

/* A colour of the page's style sheet. */
function token(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

/* Times of all decisions; after each block a gap, so that lines do not cross it. */
function timesOf(data) {
  return data.blocks.flatMap((block) => {
    const own = Array.from({ length: block.n }, (_, i) => startOf(data, block, i));
    return [...own, block.stopS, block.stopS];
  });
}

/* Values of all decisions on these times. */
function laidOut(data, value) {
  let row = 0;
  return data.blocks.flatMap((block) => {
    const own = Array.from({ length: block.n }, () => { row += 1; return value(row - 1); });
    return [...own, own.length ? own[own.length - 1] : null, null];
  });
}

function axes(ticks, label) {
  const common = {
    stroke: token("quiet"), font: "12px 'Source Sans Pro', sans-serif",
    grid: { stroke: token("line"), width: 1 }, ticks: { show: false },
  };
  return [
    { ...common, show: ticks, size: 24, values: (_, at) => at.map(clock), grid: { show: false } },
    { ...common, size: 66, values: label.values, splits: label.splits, grid: label.grid },
  ];
}

function chart(place, data, height, range, ticks, label, series, columns) {
  const from = data.blocks[0].firstS, to = data.blocks[data.blocks.length - 1].stopS;
  return new uPlot({
    width: place.clientWidth, height, legend: { show: false }, cursor: { show: false },
    padding: [6, 10, 0, 0],
    scales: { x: { time: false, range: [from, to] }, y: { range } },
    axes: axes(ticks, label), series: [{}, ...series],
  }, columns, place);
}

/* Where the reward was, and would have been. */
function boutChart(place, data, times) {
  const bar = (fill) => ({
    fill, stroke: fill, width: 0, points: { show: false }, paths: uPlot.paths.stepped({ align: 1 }),
  });
  const label = {
    splits: () => [0.4, 1.5], values: () => ["moved", "as it was"], grid: { show: false },
  };
  const was = { ...bar(token("middle")), fillTo: () => 1.1 };
  const moved = { ...bar(token("deep")), fillTo: () => 0 };
  const empty = times.map(() => null);
  return chart(place, data, 72, [0, 2], false, label, [was, moved], [times, empty, empty]);
}

/* One condition's distance to the threshold that held, and the moved threshold. */
function conditionChart(place, data, times, values, isLast) {
  const label = {
    splits: () => [-6, 0, 6], values: (_, at) => at.map((v) => (v ? decibels(v).replace(".0", "") : "it was")),
  };
  const line = { stroke: token("deep"), width: 1, points: { show: false } };
  const threshold = { stroke: token("ochre"), width: 2, dash: [8, 4], points: { show: false } };
  const height = isLast ? 134 : 110;
  return chart(place, data, height, [-10, 10], isLast, label, [line, threshold],
    [times, values, times.map(() => 0)]);
}

/* One control: its sliders, its table of numbers, its charts. */
function start(root) {
  const data = JSON.parse(document.getElementById(root.dataset.from).textContent);
  const steps = unpacked(data), times = timesOf(data);
  const moves = data.conditions.map(() => 0);
  const wasStates = rewarded(data, steps, moves), was = told(data, wasStates);
  const sliders = [...root.querySelectorAll("input[type=range]")];
  root.hidden = false;
  document.getElementById(`${root.id}-off`).hidden = true;
  const levels = data.conditions.map((_, c) => laidOut(data, (row) => {
    const step = steps[c][row];
    return step === data.notKnown ? null : (step + 0.5) * data.stepDb;
  }));
  const places = [...root.querySelectorAll("[data-chart]")];
  const plots = places.map((place, i) => (i === 0 ? boutChart(place, data, times)
    : conditionChart(place, data, times, levels[i - 1], i === places.length - 1)));

  function fill(cell, value, words) {
    cell.textContent = words;
    cell.dataset.value = value === null ? "" : String(value);
  }

  function row(line, found, kind) {
    fill(line.querySelector(`[data-number=${kind}-share]`), found.share, percent(found.share));
    fill(line.querySelector(`[data-number=${kind}-bouts]`), found.bouts, String(found.bouts));
    fill(line.querySelector(`[data-number=${kind}-longest]`), found.longestS, duration(found.longestS));
  }

  function draw(states) {
    const bars = (of, height, base) => laidOut(data, (i) => (of[i] === 1 ? height : base));
    plots[0].setData([times, bars(wasStates, 1.9, null), bars(states, 0.8, null)]);
    plots.slice(1).forEach((plot, c) => {
      const level = moves[c] * data.stepDb;
      plot.setData([times, levels[c], times.map(() => level)]);
    });
  }

  function update() {
    sliders.forEach((slider) => {
      const db = Number(slider.value) * data.stepDb;
      moves[Number(slider.dataset.condition)] = Number(slider.value);
      root.querySelector(`output[for="${slider.id}"]`).textContent = movedWords(db);
    });
    const states = rewarded(data, steps, moves), now = told(data, states);
    sliders.forEach((slider) => {
      const words = movedWords(Number(slider.value) * data.stepDb);
      slider.setAttribute("aria-valuetext", `${words}; in target ${percent(now[0].share)}`);
    });
    root.querySelectorAll("tbody tr").forEach((line, i) => {
      row(line, was[i], "was");
      row(line, now[i], "now");
    });
    places[0].setAttribute("aria-label", `Bouts over time. As it was: ${was[0].bouts}, in target `
      + `${percent(was[0].share)}. Moved: ${now[0].bouts}, in target ${percent(now[0].share)}.`);
    draw(states);
  }

  sliders.forEach((slider) => slider.addEventListener("input", update));
  root.querySelector("button").addEventListener("click", () => {
    sliders.forEach((slider) => { slider.value = "0"; });
    update();
  });
  new ResizeObserver(() => plots.forEach((plot, i) => {
    const { clientWidth: width } = places[i];
    if (width && width !== plot.width) plot.setSize({ width, height: plot.height });
  })).observe(root);
  update();
}

document.querySelectorAll(".control").forEach(start);
