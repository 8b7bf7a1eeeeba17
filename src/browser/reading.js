// What the map holds in one cell, and how the ground lies toward each station.

import mgrs from 'mgrs';
import { sectionFigure } from './chart.js';
import { bearing, distance, el, freshId, height, marginDecibels, name, otherDistance, percent } from './dom.js';
import { between } from './ground.js';

export function classOf(data, marginDb) {
  return data.legend.classes.find((entry) => marginDb >= (entry.least ?? -Infinity));
}

export function swatch(entry) {
  const square = el('span', { class: `swatch${entry.colour ? '' : ' bare'}`, 'aria-hidden': 'true' });
  if (entry.colour) {
    square.style.backgroundColor = entry.colour;
  }
  return square;
}

function mgrsOf({ latitude, longitude }) {
  // Beyond the polar limits of UTM there is no such square.
  if (latitude < -80 || latitude > 84) {
    return '';
  }
  const text = mgrs.forward([longitude, latitude], 5);
  const digits = text.length - 10;
  return `${text.slice(0, digits)} ${text.slice(digits, digits + 5)} ${text.slice(digits + 5)}`;
}

// The centre of a Maidenhead locator of six to ten characters; null if it is none.
function centreOfLocator(text) {
  const code = text.trim().toUpperCase();
  if (!/^[A-R]{2}\d\d[A-X]{2}(\d\d([A-X]{2})?)?$/.test(code)) {
    return null;
  }
  let height = 180;
  let latitude = -90;
  let longitude = -180;
  [18, 10, 24, 10, 24].slice(0, code.length / 2).forEach((count, pair) => {
    const first = (pair % 2 === 0 ? 'A' : '0').charCodeAt(0);
    height /= count;
    longitude += 2 * height * (code.charCodeAt(2 * pair) - first);
    latitude += height * (code.charCodeAt(2 * pair + 1) - first);
  });
  return { latitude: latitude + height / 2, longitude: longitude + height };
}

function centreOfSquare(square) {
  const [west, south, east, north] = mgrs.inverse(square);
  return { latitude: (south + north) / 2, longitude: (west + east) / 2 };
}

// A square of MGRS without its zone: the one of that name nearest to `near`, if it is near.
function squareNear(square, near) {
  const bands = 'CDEFGHJKLMNPQRSTUVWX';
  const zone = parseInt(mgrs.forward([near.longitude, near.latitude], 1), 10);
  let best = null;
  let nearestM = 150000;
  for (const shift of [-2, -1, 0, 1, 2]) {
    for (const band of bands) {
      const place = centreOfSquare(`${((zone + shift + 59) % 60) + 1}${band}${square}`);
      const inBand = bands[Math.min(19, Math.floor((place.latitude + 80) / 8))] === band;
      const awayM = inBand ? between(near, place).distanceM : NaN;
      if (awayM < nearestM) {
        nearestM = awayM;
        best = place;
      }
    }
  }
  return best;
}

// "35.48925, 16.91945", a square of MGRS (near `near` without its zone) or a locator; null if it is
// none of them.
export function parsePlace(text, near = null) {
  const pair = text.trim().match(/^([-+]?\d{1,2}(?:\.\d+)?)\s*[,;\s]\s*([-+]?\d{1,3}(?:\.\d+)?)$/);
  if (pair) {
    const latitude = Number(pair[1]);
    const longitude = Number(pair[2]);
    return Math.abs(latitude) <= 90 && Math.abs(longitude) <= 180 ? { latitude, longitude } : null;
  }
  const locator = centreOfLocator(text);
  if (locator) {
    return locator;
  }
  const square = text.replace(/\s/g, '').toUpperCase();
  const parts = square.match(/^(\d{1,2}[C-HJ-NP-X])?[A-HJ-NP-Z]{2}(\d*)$/);
  if (!parts || parts[2].length < 4 || parts[2].length > 10 || parts[2].length % 2 !== 0) {
    return null;
  }
  if (parts[1]) {
    return centreOfSquare(square);
  }
  return near ? squareNear(square, near) : null;
}

// Everything there is to say about a place in the raster; null outside.
export function readCell(data, ground, column, row) {
  if (!ground.has(column, row)) {
    return null;
  }
  const cell = { column: Math.floor(column + 0.5), row: Math.floor(row + 0.5) };
  const index = cell.row * data.grid.columns + cell.column;
  const position = ground.position(cell.column, cell.row);
  const marginDb = data.margin.at(index);
  const ways = data.stations.map((station) => between(station, position));
  const nearest = ways.reduce((best, way, i) => (way.distanceM < ways[best].distanceM ? i : best), 0);
  const serving = data.serving ? data.serving.at(index) : data.stations.length === 1 ? 1 : NaN;
  const heardBest = serving >= 1 && serving <= data.stations.length ? serving - 1 : null;
  return {
    cell,
    position,
    marginDb,
    known: !Number.isNaN(marginDb),
    readability: Number.isNaN(marginDb) ? null : classOf(data, marginDb),
    chance: data.chance ? data.chance.at(index) : NaN,
    marginsDb: data.each ? data.each.map((each) => each.at(index)) : null,
    bothWaysDb: data.bothWays ? data.bothWays.at(index) : NaN,
    groundM: ground.height(cell.column, cell.row),
    ways,
    heardBest,
    station: heardBest ?? nearest,
  };
}

function facts(rows) {
  return el(
    'dl',
    { class: 'facts' },
    rows.filter(([, value]) => value).map(([label, value]) => el('div', {}, el('dt', {}, label), el('dd', {}, value))),
  );
}

function positionText({ latitude, longitude }) {
  return `${latitude.toFixed(5)}, ${longitude.toFixed(5)}`.replaceAll('-', '\u2212');
}

export function statusWords(data, reading) {
  if (reading === null) {
    return 'Outside the map.';
  }
  if (!reading.known) {
    return 'The map holds nothing here: the margin is not known.';
  }
  const best = reading.heardBest === null || !data.serving ? '' : ` Best heard: ${data.stations[reading.heardBest].name}.`;
  const chance = Number.isNaN(reading.chance) ? '' : `, chance of contact ${percent(reading.chance)}`;
  return `${reading.readability.name}, margin ${marginDecibels(data, reading.marginDb)}${chance}.${best}`;
}

export class ReadingPanel {
  // `onStation` is called when the way to another station is asked for.
  constructor(data, ground, onPlace) {
    this.data = data;
    this.ground = ground;
    this.onStation = () => {};
    this.body = el('div', { class: 'reading' });
    this.element = el('div', {}, this.form(onPlace), this.body);
    this.body.append(
      el(
        'p',
        { class: 'hint' },
        'Point at the map to read it there: the margin, the chance of contact and the ground toward each station. With the keyboard, move the map under the cross and press Enter.',
      ),
    );
  }

  form(onPlace) {
    const id = freshId('position');
    const fault = el('p', { class: 'fault', id: `${id}-fault`, role: 'alert' });
    const input = el('input', { id, type: 'text', autocomplete: 'off', spellcheck: 'false', 'aria-describedby': `${id}-fault` });
    return el(
      'form',
      {
        class: 'go-to',
        onsubmit: (event) => {
          event.preventDefault();
          const place = parsePlace(input.value, this.data.stations[0]);
          fault.textContent = place ? '' : 'Give latitude and longitude in degrees, an MGRS square or a locator.';
          if (place && !onPlace(place)) {
            fault.textContent = 'That is outside the map.';
          }
        },
      },
      el('label', { for: id }, 'Read at latitude, longitude or MGRS'),
      el('div', { class: 'row' }, input, el('button', { type: 'submit' }, 'Read')),
      fault,
    );
  }

  show(reading) {
    const { data } = this;
    if (reading === null) {
      this.body.replaceChildren(el('p', { class: 'hint' }, 'That is outside the map.'));
      return;
    }
    const { readability } = reading;
    const verdict = reading.known
      ? [
          el('p', { class: 'verdict' }, swatch(readability), el('strong', {}, readability.name)),
          el('p', { class: 'meaning' }, `${readability.meaning}; readability ${readability.level} of 5`),
          el(
            'div',
            { class: 'figures' },
            el('p', {}, el('span', { class: 'number', id: 'margin' }, marginDecibels(data, reading.marginDb)), ' margin'),
            data.chance
              ? el('p', {}, el('span', { class: 'number' }, percent(reading.chance)), ' chance of contact')
              : null,
          ),
        ]
      : [
          el('p', { class: 'verdict' }, el('strong', {}, 'not known')),
          el('p', { class: 'meaning' }, 'Out of range, or the ground is not known here or on the way.'),
        ];
    this.body.replaceChildren(
      ...verdict,
      facts([
        ['Best heard', reading.heardBest !== null && data.serving ? name(data.stations[reading.heardBest].name) : ''],
        ['Hears and is heard', Number.isNaN(reading.bothWaysDb) ? '' : `margin of the weaker way ${marginDecibels(data, reading.bothWaysDb)}`],
        ['Position', positionText(reading.position)],
        ['MGRS', mgrsOf(reading.position)],
        ['Ground', Number.isNaN(reading.groundM) ? 'not known' : `${height(reading.groundM)} above sea level`],
      ]),
      this.stationTable(reading),
      this.figure(reading),
    );
  }

  // Distances and bearings, and a choice of the station whose way is shown.
  stationTable(reading) {
    const { data } = this;
    const magnetic = data.declinationDeg !== null;
    return el(
      'table',
      { class: 'ways' },
      el('caption', {}, 'From each station to this place'),
      el(
        'thead',
        {},
        el('tr', {}, ['Station', ...(reading.marginsDb ? ['Margin'] : []), 'Distance', magnetic ? 'True (magnetic) bearing' : 'True bearing'].map((text, i) => el('th', { scope: 'col', class: i ? 'right' : '' }, text))),
      ),
      el(
        'tbody',
        {},
        data.stations.map((station, i) => {
          const way = reading.ways[i];
          return el(
            'tr',
            { class: i === reading.station ? 'chosen' : '' },
            el(
              'th',
              { scope: 'row' },
              el(
                'button',
                {
                  type: 'button',
                  class: 'plain',
                  'aria-pressed': String(i === reading.station),
                  onclick: () => this.onStation(i),
                },
                name(station.name),
              ),
            ),
            reading.marginsDb ? el('td', { class: 'right' }, marginDecibels(data, reading.marginsDb[i])) : null,
            el('td', { class: 'right' }, el('span', {}, distance(way.distanceM)), ' ', el('span', { class: 'quiet' }, otherDistance(way.distanceM))),
            el(
              'td',
              { class: 'right' },
              el('span', {}, bearing(way.bearing)),
              magnetic ? ' ' : null,
              magnetic ? el('span', { class: 'quiet' }, `(${bearing(way.bearing - data.declinationDeg)})`) : null,
            ),
          );
        }),
      ),
    );
  }

  figure(reading) {
    const { data } = this;
    const station = data.stations[reading.station];
    if (reading.ways[reading.station].distanceM < 2) {
      return el('p', { class: 'hint' }, 'This is the station\u2019s own place.');
    }
    const section = this.ground.section(
      station,
      { ...reading.position, antennaM: data.listenerM },
      data.radiusKm,
      data.frequencyMhz,
    );
    return sectionFigure(section, station.name, 'this place');
  }
}
