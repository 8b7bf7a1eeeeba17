// The parts of the page beside the map.

import { sectionFigure } from './chart.js';
import { bearing, capital, decibels, distance, el, height, margin, marginDecibels, name, otherDistance, percent, shortPercent, signed } from './dom.js';
import { classOf, readCell, swatch } from './reading.js';
import { placeSymbol, stationSymbol } from './marks.js';

function table(caption, heads, rows, attributes = {}) {
  return el(
    'div',
    { class: 'wide', tabindex: '0', role: 'group', 'aria-label': caption },
    el(
      'table',
      attributes,
      el('caption', {}, caption),
      el('thead', {}, el('tr', {}, heads.map(([text, css]) => el('th', { scope: 'col', class: css }, text)))),
      el('tbody', {}, rows),
    ),
  );
}

// ---- Layers and legend --------------------------------------------------------------------------

export function layerPanel(data, onLayer) {
  const rows = [
    ['coverage', 'Coverage', true],
    ['relief', 'Relief', true],
    ['stations', 'Stations', true],
    ['places', 'Places', data.places.length > 0],
    ['links', 'Who hears whom', false],
    ['contours', data.contours ? `Contours, every ${height(data.contours.intervalM)}` : '', true],
    ['graticule', 'Latitude and longitude', true],
  ].filter(([id]) => (id !== 'places' || data.places.length > 0) && (id !== 'links' || data.pairs.length > 0) && (id !== 'contours' || data.contours));
  rows.forEach(([id, , shown]) => {
    if (shown && id !== 'coverage' && id !== 'relief') {
      onLayer(id, true);
    }
  });
  return el(
    'fieldset',
    { class: 'layers' },
    el('legend', {}, 'On the map'),
    rows.map(([id, label, shown]) =>
      el(
        'label',
        {},
        el('input', { type: 'checkbox', id: `layer-${id}`, checked: shown, onchange: (event) => onLayer(id, event.target.checked) }),
        el('span', {}, label),
      ),
    ),
  );
}

function range(entry, above) {
  if (entry.least === null) {
    return `below ${signed(above.least, 0)} dB`;
  }
  return above ? `${signed(entry.least, 0)} to ${signed(above.least, 0)} dB` : `${signed(entry.least, 0)} dB and more`;
}

export function legendPanel(data) {
  const { classes } = data.legend;
  const coloured = classes.filter((entry) => entry.colour);
  const last = coloured[coloured.length - 1];
  const row = (square, title, numbers, meaning) =>
    el('li', {}, square, el('div', {}, el('strong', {}, title), ' ', el('span', { class: 'quiet' }, numbers), el('br'), meaning));
  return el(
    'div',
    {},
    el('p', {}, 'How a voice call comes through to a listener on foot, and the margin behind it: what arrives less what the radio needs.'),
    el(
      'ul',
      { class: 'legend' },
      coloured.map((entry) => {
        const at = classes.indexOf(entry);
        return row(swatch(entry), entry.name, range(entry, classes[at - 1]), entry.meaning);
      }),
      row(swatch({}), 'not heard', `below ${signed(last.least, 0)} dB`, 'no words get through; bare relief'),
      row(el('span', { class: 'swatch hatch', 'aria-hidden': 'true' }), 'not known', '', 'out of range, or the ground is not known'),
    ),
    el(
      'ul',
      { class: 'legend signs' },
      el('li', {}, el('span', { class: 'sign' }, stationSymbol()), el('div', {}, 'station')),
      data.places.length > 0 ? el('li', {}, el('span', { class: 'sign' }, placeSymbol()), el('div', {}, 'place')) : null,
      data.pairs.length > 0
        ? [
            el('li', {}, el('span', { class: 'sign line', 'aria-hidden': 'true' }), el('div', {}, 'hear each other')),
            el('li', {}, el('span', { class: 'sign line broken', 'aria-hidden': 'true' }), el('div', {}, 'only one hears the other; the arrow points at the one who hears')),
          ]
        : null,
    ),
  );
}

// ---- Stations and places ------------------------------------------------------------------------

function markButton(mark, onMark) {
  return el('button', { type: 'button', class: 'plain', onclick: () => onMark(mark) }, name(mark.name));
}

export function stationPanel(data, onMark) {
  return el(
    'ul',
    { class: 'plain-list stations' },
    data.stations.map((station) => {
      const who = [station.person, station.role].filter(Boolean).join(', ');
      const ground = station.groundM === null ? '' : ` on ground ${height(station.groundM)} above sea level`;
      return el(
        'li',
        {},
        el('h3', {}, markButton(station, onMark)),
        who ? el('p', {}, name(who)) : null,
        station.fallback ? el('p', {}, 'If not heard, go to ', name(station.fallback), '.') : null,
        el('p', { class: 'quiet' }, `${station.power}, ${signed(station.gainDbi)} dBi; antenna ${distance(station.antennaM)} up,${ground}`),
      );
    }),
  );
}

export function placePanel(data, ground, onMark) {
  const rows = data.places.map((place) => {
    const reading = readCell(data, ground, place.column, place.row);
    const known = reading !== null && reading.known;
    const words = known
      ? [swatch(reading.readability), ` ${reading.readability.name}`]
      : [reading === null ? 'off the map' : 'not known'];
    return el(
      'tr',
      {},
      el('th', { scope: 'row' }, reading === null ? name(place.name) : markButton(place, onMark)),
      el('td', {}, words),
      el('td', { class: 'right' }, known ? marginDecibels(data, reading.marginDb) : '\u2013'),
      data.chance ? el('td', { class: 'right' }, known ? percent(reading.chance) : '\u2013') : null,
    );
  });
  const heads = [['Place', ''], ['A listener there', ''], ['Margin', 'right'], ...(data.chance ? [['Chance', 'right']] : [])];
  return table('What a listener hears at each place', heads, rows);
}

export function channelPanel(data) {
  return table(
    'Channels',
    [['Channel', ''], ['Frequency', 'right'], ['Use', ''], ['Power', '']],
    data.channels.map((channel) =>
      el(
        'tr',
        {},
        el('th', { scope: 'row' }, name(channel.name)),
        el('td', { class: 'right' }, `${channel.talkMhz ? `talk ${channel.talkMhz} MHz, listen ` : ''}${channel.frequencyMhz} MHz`, channel.toneHz ? `, tone ${channel.toneHz} Hz` : ''),
        el('td', {}, channel.use),
        el('td', {}, channel.power),
      ),
    ),
  );
}

// ---- Who hears whom -----------------------------------------------------------------------------

function hearingCell(data, hearing, pair) {
  if (!pair.known) {
    return el('td', { class: 'hearing' }, 'not known');
  }
  const entry = classOf(data, hearing.marginDb);
  const cell = el(
    'td',
    { class: `hearing${hearing.heard ? ' heard' : ''}` },
    swatch(entry),
    el('span', { class: 'number' }, margin(data, hearing.marginDb, 0, data.wantedMarginDb), pair.tryFirst ? data.tryMark : null),
    el('span', { class: 'quiet' }, shortPercent(hearing.chancePercent)),
    el('span', { class: 'unseen' }, hearing.heard ? `, heard, ${entry.name}` : ', not heard'),
  );
  return cell;
}

export function hearingPanel(data) {
  const count = data.stations.length;
  const heard = Array.from({ length: count }, () => new Array(count).fill(null));
  for (const pair of data.pairs) {
    heard[pair.b][pair.a] = [pair.bHearsA, pair];
    heard[pair.a][pair.b] = [pair.aHearsB, pair];
  }
  const rows = data.stations.map((listener, i) =>
    el(
      'tr',
      {},
      el('th', { scope: 'row' }, `${i + 1}\u2002`, name(listener.name)),
      data.stations.map((talker, j) =>
        i === j ? el('td', { class: 'self', 'aria-label': 'itself' }, '\u00b7') : hearingCell(data, ...heard[i][j]),
      ),
    ),
  );
  const heads = [
    ['Listens', ''],
    ...data.stations.map((station, i) => [[el('span', { 'aria-hidden': 'true' }, `${i + 1}`), el('span', { class: 'unseen' }, station.name)], 'middle']),
  ];
  return el(
    'div',
    {},
    el('p', {}, `Each row listens, each numbered column talks: margin in dB and chance of contact. Heard means a margin of ${data.wantedMarginDb} dB or more.`),
    table('Who hears whom', heads, rows, { class: 'matrix' }),
    data.pairs.some((pair) => pair.tryFirst) ? el('p', {}, data.tryWords) : null,
    netWords(data),
  );
}

function namesOf(data, stations) {
  return stations.flatMap((station, i) => [i === 0 ? '' : ', ', name(data.stations[station].name)]);
}

function netWords(data) {
  const { net } = data;
  const lines = [];
  if (net.cutOff.length > 0) {
    lines.push(['Cut off, talks with nobody: ', namesOf(data, net.cutOff), '.']);
  }
  if (net.splitting.length > 0) {
    lines.push(['The net falls apart without ', namesOf(data, net.splitting), '.']);
  }
  for (const way of net.relayed) {
    const { stations } = way;
    lines.push([
      namesOf(data, [stations[0]]),
      ' and ',
      namesOf(data, [stations[stations.length - 1]]),
      ' talk over ',
      namesOf(data, stations.slice(1, -1)),
      `, the weakest hop with ${marginDecibels(data, way.weakestDb, data.wantedMarginDb)}.`,
    ]);
  }
  if (net.relayed.length === 0 && net.cutOff.length === 0 && net.unreachablePairs === 0) {
    lines.push(['Nobody needs to pass messages on: all hear one another.']);
  }
  return el('ul', { class: 'words' }, lines.map((line) => el('li', {}, line)));
}

// ---- Paths and ladder ---------------------------------------------------------------------------

function directionSummary(data, listener, talker, direction) {
  const entry = classOf(data, direction.marginDb);
  return el(
    'li',
    {},
    swatch(entry),
    ' ',
    name(listener),
    ' hears ',
    name(talker),
    `: ${entry.name}, ${marginDecibels(data, direction.marginDb)}, chance ${percent(direction.chancePercent)}`,
  );
}

export function pathPanel(data, path) {
  const lines = path.outward.lines.map((line, i) => {
    const back = path.backward.lines[i];
    return el(
      'tr',
      {},
      el('th', { scope: 'row' }, line.label),
      el('td', { class: 'right' }, `${signed(line.value)} ${line.unit}`),
      el('td', { class: 'right' }, `${signed(back.value)} ${back.unit}`),
    );
  });
  return el(
    'article',
    { class: 'path' },
    el('h3', {}, name(path.title)),
    el(
      'p',
      { class: 'quiet' },
      `${distance(path.distanceM)} (${otherDistance(path.distanceM)}); bearing ${bearing(path.bearing)} out, ${bearing(path.backBearing)} back, from true north`,
    ),
    el('p', {}, path.verdict),
    el('ul', { class: 'plain-list' }, directionSummary(data, path.b, path.a, path.outward), directionSummary(data, path.a, path.b, path.backward)),
    sectionFigure(path.section, path.a, path.b),
    el('details', {}, el('summary', {}, 'Link budget, line by line'), table(`Link budget: ${path.title}`, [['Line', ''], ['Out', 'right'], ['Back', 'right']], lines)),
  );
}

export function ladderPanel(data) {
  const { ladder } = data;
  const any = (key) => ladder.rungs.some((rung) => rung[key] !== null);
  const columns = [
    ['Gain', any('gainDb'), (rung) => (rung.gainDb === null ? '\u2013' : decibels(rung.gainDb))],
    ['Margin then', any('marginDb'), (rung) => (rung.marginDb === null ? '\u2013' : marginDecibels(data, rung.marginDb))],
    ['Typical range', any('rangeM'), (rung) => (rung.rangeM === null ? '\u2013' : distance(rung.rangeM))],
    ['Places reached', !any('marginDb') && !any('rangeM'), (rung) => String(rung.places)],
  ].filter(([, shown]) => shown);
  return el(
    'div',
    {},
    el('p', {}, name(ladder.title)),
    table(
      'Each step on top of those before',
      [['Step', ''], ...columns.map(([text]) => [text, 'right'])],
      ladder.rungs.map((rung) => el('tr', {}, el('th', { scope: 'row' }, rung.label), columns.map(([, , value]) => el('td', { class: 'right' }, value(rung))))),
    ),
    el('p', {}, `${capital(ladder.words)}.`),
  );
}

// ---- What it rests on ---------------------------------------------------------------------------

export function inputPanel(data) {
  return el(
    'div',
    {},
    el('dl', { class: 'facts' }, data.inputs.map(([label, value]) => el('div', {}, el('dt', {}, capital(label)), el('dd', {}, value)))),
    data.notes.length > 0 ? el('ul', { class: 'words' }, data.notes.map((note) => el('li', {}, `${capital(note)}.`))) : null,
    el(
      'p',
      { class: 'fine' },
      'The map is drawn with Leaflet (BSD 2-Clause licence); distances with geographiclib-geodesic and grid squares with mgrs (MIT licence). Their notices are in the source of this page. This file asks nothing of any network.',
    ),
  );
}
