// The ground between two stations, seen from the side.

import { distance, el, freshId, height, svg } from './dom.js';
import { tightest } from './ground.js';

const size = { width: 400, height: 190 };
const frame = { left: 42, right: 10, top: 14, bottom: 30 };
const wantedShare = 0.6; // of the first Fresnel zone

function roundStep(span, count) {
  const least = span / count;
  const tens = 10 ** Math.floor(Math.log10(least));
  return [1, 2, 5, 10].map((times) => times * tens).find((step) => step >= least);
}

function ticks(from, to, count) {
  const step = roundStep(to - from, count);
  const list = [];
  for (let value = Math.ceil(from / step) * step; value <= to + 1e-9; value += step) {
    list.push(value);
  }
  return { list, decimals: Math.max(0, -Math.floor(Math.log10(step) + 1e-9)) };
}

function known(values) {
  return values.filter((value) => value !== null && !Number.isNaN(value));
}

// "The ground 3.2 km from Ombrel Mill stands 45 m above the line."
export function sectionWords(section, from) {
  if (section.groundM.some((value) => value === null || Number.isNaN(value))) {
    return 'The height of the ground is not known all the way.';
  }
  const point = tightest(section);
  if (point === null) {
    return 'Too close for the elevation to show anything between.';
  }
  const where = `${distance(1000 * point.distanceKm)} from ${from}`;
  if (point.aboveM >= 0) {
    return `No line of sight: the ground ${where} stands ${height(point.aboveM)} above the line.`;
  }
  const room = `${height(-point.aboveM)} below the line`;
  return point.clearance < wantedShare
    ? `Line of sight, but tight: the ground ${where} comes to ${room}, within 0.6 of the first Fresnel zone.`
    : `Line of sight with room: the nearest ground, ${where}, lies ${room}.`;
}

function pathThrough(xs, ys) {
  let text = '';
  let pen = 'M';
  for (let i = 0; i < xs.length; i += 1) {
    if (Number.isNaN(ys[i])) {
      pen = 'M';
    } else {
      text += `${pen}${xs[i].toFixed(1)} ${ys[i].toFixed(1)}`;
      pen = 'L';
    }
  }
  return text;
}

function closed(xs, upper, lower) {
  const there = xs.map((x, i) => `${x.toFixed(1)} ${upper[i].toFixed(1)}`);
  const back = xs.map((x, i) => `${x.toFixed(1)} ${lower[i].toFixed(1)}`).reverse();
  return `M${there.concat(back).join('L')}Z`;
}

// A figure of a section {distanceKm, seaM, groundM, topM?, lineM, fresnelM, edges?, radiusKm}.
export function sectionFigure(section, from, to, earthRadiusKm = 6371) {
  const { distanceKm, lineM } = section;
  const groundM = section.groundM.map((value) => (value === null ? NaN : value));
  const topM = (section.topM || groundM).map((value) => (value === null ? NaN : value));
  const lengthKm = distanceKm[distanceKm.length - 1];
  const zoneM = section.fresnelM.map((radius) => wantedShare * radius);
  const zone = [1, -1].flatMap((side) => lineM.map((value, i) => value + side * zoneM[i]));
  const heights = known([...topM, ...lineM, ...zone]);
  const low = Math.min(...heights);
  const high = Math.max(...heights);
  const span = Math.max(high - low, 20);
  const bottom = low - 0.08 * span;
  const top = high + 0.1 * span;
  const inner = { width: size.width - frame.left - frame.right, height: size.height - frame.top - frame.bottom };
  const x = (km) => frame.left + (km / lengthKm) * inner.width;
  const y = (m) => frame.top + ((top - m) / (top - bottom)) * inner.height;
  const floor = size.height - frame.bottom;
  const xs = distanceKm.map(x);
  const ground = groundM.map((m) => (Number.isNaN(m) ? floor : y(m)));
  const cover = topM.map((m, i) => (Number.isNaN(m) ? ground[i] : y(m)));
  const floors = xs.map(() => floor);
  const blocked = topM.map((m, i) => (m > lineM[i] ? Math.min(y(lineM[i]), floor) : cover[i]));
  const sea = section.seaM.map((m) => Math.min(y(m), floor));
  const line = lineM.map(y);
  const words = sectionWords({ ...section, groundM }, from);
  const id = freshId('section');

  const heightTicks = ticks(bottom, top, 5);
  const distanceTicks = ticks(0, lengthKm, 6);
  const k = section.radiusKm / earthRadiusKm;
  const picture = svg(
    'svg',
    {
      class: 'section',
      viewBox: `0 0 ${size.width} ${size.height}`,
      role: 'img',
      'aria-labelledby': id,
    },
    svg('title', { id }, `Ground from ${from} to ${to}, ${lengthKm.toFixed(1)} km. ${words}`),
    heightTicks.list.map((m) => [
      svg('line', { class: 'rule', x1: frame.left, x2: size.width - frame.right, y1: y(m), y2: y(m) }),
      svg('text', { class: 'tick end', x: frame.left - 5, y: y(m) + 3.5 }, m.toFixed(heightTicks.decimals)),
    ]),
    distanceTicks.list.map((km) => [
      svg('line', { class: 'axis', x1: x(km), x2: x(km), y1: floor, y2: floor + 4 }),
      svg('text', { class: 'tick middle', x: x(km), y: floor + 15 }, km.toFixed(distanceTicks.decimals)),
    ]),
    svg('text', { class: 'tick end', x: frame.left - 5, y: frame.top - 4 }, 'm'),
    svg('text', { class: 'tick end', x: size.width - frame.right, y: floor + 26 }, 'km'),
    section.topM ? svg('path', { class: 'cover', d: closed(xs, cover, ground) }) : null,
    svg('path', { class: 'ground', d: closed(xs, ground, floors) }),
    svg('path', { class: 'blocked', d: closed(xs, cover, blocked.map((value, i) => Math.max(value, cover[i]))) }),
    svg('path', { class: 'sea', d: pathThrough(xs, sea) }),
    svg('path', {
      class: 'zone',
      d: closed(xs, lineM.map((m, i) => y(m + zoneM[i])), lineM.map((m, i) => y(m - zoneM[i]))),
    }),
    svg('path', { class: 'surface', d: pathThrough(xs, groundM.map(y)) }),
    svg('path', { class: 'ray', d: pathThrough(xs, line) }),
    [0, xs.length - 1].map((i) => [
      svg('line', { class: 'mast', x1: xs[i], x2: xs[i], y1: ground[i], y2: line[i] }),
      svg('circle', { class: 'antenna', cx: xs[i], cy: line[i], r: 3 }),
    ]),
    svg('line', { class: 'axis', x1: frame.left, x2: size.width - frame.right, y1: floor, y2: floor }),
  );
  return el(
    'figure',
    { class: 'section-figure' },
    el('div', { class: 'section-ends', 'aria-hidden': 'true' }, el('bdi', {}, from), el('bdi', {}, to)),
    picture,
    el(
      'figcaption',
      {},
      el('p', {}, words),
      el(
        'p',
        { class: 'fine' },
        `Straight line between the antennas, with 0.6 of the first Fresnel zone around it; the ground is raised by the earth\u2019s curve for k = ${k.toFixed(2)}. Heights are stretched.`,
      ),
    ),
  );
}
