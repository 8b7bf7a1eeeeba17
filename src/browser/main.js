import { capital, el, useUnits } from './dom.js';
import { readData } from './data.js';
import { Ground } from './ground.js';
import { MapView } from './map.js';
import { ReadingPanel, readCell, statusWords } from './reading.js';
import {
  channelPanel,
  hearingPanel,
  inputPanel,
  ladderPanel,
  layerPanel,
  legendPanel,
  pathPanel,
  placePanel,
  stationPanel,
} from './panels.js';

const byId = (id) => document.getElementById(id);

function heading(data) {
  byId('title').append(el('bdi', {}, data.title));
  const parts = [data.date, data.preparedBy ? `prepared by ${data.preparedBy}` : '', `${data.frequencyMhz} MHz`];
  byId('subtitle').append(parts.filter(Boolean).join(' \u00b7 '));
  byId('cautions').append(el('strong', {}, 'Caution. '), data.cautions);
}

// A part of the page with its entry in the list of parts.
function part(id, title, ...content) {
  byId('nav').append(el('a', { href: `#${id}` }, title));
  byId('sheet').append(el('section', { id, 'aria-labelledby': `${id}-title` }, el('h2', { id: `${id}-title` }, title), content));
}

// On a phone the sheet lies behind the map until somebody asks for it.
function sheetHandle() {
  const handle = byId('handle');
  const show = (shown) => {
    document.body.classList.toggle('sheet-open', shown);
    handle.setAttribute('aria-expanded', String(shown));
    handle.textContent = shown ? 'Back to the map' : 'Reading, stations, net and more';
  };
  handle.addEventListener('click', () => show(handle.getAttribute('aria-expanded') !== 'true'));
  byId('nav').addEventListener('click', () => show(true));
  show(false);
}

// What print needs to show the map as it is on the screen: its size, and how far it may grow.
function keepSizeForPrint(element) {
  const paper = { width: 690, height: 820 }; // CSS pixels within the margins of A4 and letter
  const keep = () => {
    const { clientWidth: width, clientHeight: height } = element;
    if (width > 0 && !window.matchMedia('print').matches) {
      const scale = Math.min(paper.width / width, paper.height / height);
      for (const [name, value] of [['map-width', `${width}px`], ['map-height', `${height}px`], ['print-scale', scale]]) {
        element.style.setProperty(`--${name}`, value);
      }
    }
  };
  new ResizeObserver(keep).observe(element);
  keep();
}

function open(data) {
  useUnits(data.units);
  const ground = new Ground(data.grid, data.heights);
  heading(data);

  let reading = null;
  const view = new MapView(byId('map'), data, ground, ({ column, row }) => read(column, row));
  const panel = new ReadingPanel(data, ground, (position) => {
    const { column, row } = ground.cell(position);
    if (!ground.has(column, row)) {
      return false;
    }
    read(column, row);
    view.bring(column, row);
    return true;
  });

  function show() {
    panel.show(reading);
    byId('status').textContent = capital(statusWords(data, reading));
    if (reading !== null) {
      view.mark(reading.cell.column, reading.cell.row, data.stations[reading.station]);
    }
  }
  function read(column, row) {
    reading = readCell(data, ground, column, row);
    show();
  }
  panel.onStation = (station) => {
    reading = { ...reading, station };
    show();
    panel.element.querySelector('button[aria-pressed="true"]').focus();
  };
  const goTo = (mark) => {
    read(mark.column, mark.row);
    view.bring(mark.column, mark.row);
    byId('reading').scrollIntoView({ block: 'start' });
  };

  sheetHandle();
  keepSizeForPrint(byId('map'));
  part('reading', 'Reading', panel.element);
  part('legend', 'Legend', layerPanel(data, (layer, shown) => view.show(layer, shown)), legendPanel(data));
  if (data.places.length > 0) {
    part('places', 'Places', placePanel(data, ground, goTo));
  }
  part('stations', 'Stations', data.remarks.map((remark) => el('p', { class: 'remark' }, remark)), stationPanel(data, goTo), data.channels.length > 0 ? channelPanel(data) : null);
  if (data.pairs.length > 0) {
    part('net', 'Net', hearingPanel(data));
  }
  if (data.paths.length > 0) {
    part('paths', 'Paths', data.paths.map((path) => pathPanel(data, path)));
  }
  if (data.ladder) {
    part('ladder', 'Upgrades', ladderPanel(data));
  }
  part('inputs', 'Inputs', inputPanel(data));
}

readData(document)
  .then(open)
  .then(() => document.documentElement.setAttribute('data-ready', ''))
  .catch((error) => {
    byId('sheet').prepend(el('p', { class: 'fault' }, `This page cannot show its map: ${error.message}.`));
    throw error;
  });
