// Reads what the program put into the page.

function bytesOf(base64) {
  const text = atob(base64);
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i += 1) {
    bytes[i] = text.charCodeAt(i);
  }
  return bytes;
}

async function inflated(bytes) {
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream('deflate'));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

// Undoes packed() of src/report/files/browser_page.cpp.
export function undifferenced(planes, columns, rows) {
  const count = columns * rows;
  const numbers = new Int16Array(count);
  for (let row = 0, i = 0; row < rows; row += 1) {
    let before = row === 0 ? 0 : numbers[i - columns];
    for (let column = 0; column < columns; column += 1, i += 1) {
      // Storing into 16 bits wraps around as the differences did.
      numbers[i] = before + (planes[i] | (planes[count + i] << 8));
      before = numbers[i];
    }
  }
  return numbers;
}

// A raster whose at(index) is the value of a cell, NaN where not known.
async function raster(packed) {
  const { columns, rows, offset, step, unknown } = packed;
  const planes = await inflated(bytesOf(packed.data));
  if (planes.length !== 2 * columns * rows) {
    throw new Error('the file is damaged: a raster in it has the wrong size');
  }
  const numbers = undifferenced(planes, columns, rows);
  return {
    columns,
    rows,
    numbers,
    at: (index) => (numbers[index] === unknown ? NaN : offset + step * numbers[index]),
  };
}

export async function readData(document) {
  if (typeof DecompressionStream === 'undefined') {
    throw new Error('this browser is too old for the map; use one from 2023 or later');
  }
  const data = JSON.parse(document.getElementById('data').textContent);
  [data.margin, data.heights, data.relief] = await Promise.all(
    [data.margin, data.heights, data.relief].map(raster),
  );
  data.each = data.each ? await Promise.all(data.each.map(raster)) : null;
  data.bothWays = data.bothWays ? await raster(data.bothWays) : null;
  data.serving = data.serving ? await raster(data.serving) : null;
  data.chance = data.chance ? await raster(data.chance) : null;
  return data;
}
