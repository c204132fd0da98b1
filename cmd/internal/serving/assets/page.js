// What happens on the page: files are sent, what is changed is judged again, rows lead to their places. Without it, forms and links do.
'use strict';

const byId = id => document.getElementById(id);
let hush = 0;
// say tells what happened; what nobody has to wait for goes away again.
function say(text, lasting) {
  byId('status').textContent = text;
  clearTimeout(hush);
  if (!lasting) hush = setTimeout(() => { byId('status').textContent = ''; }, 8000);
}
const pause = seconds => new Promise(done => setTimeout(done, 1000 * seconds));
const lost = 'peelcheck serve does not answer. See whether it still runs, then load the page again.';
let viewer = null;

// --- sending files

// send sends one file and returns what became of it, [] if it was refused outright.
async function send(file, line) {
  const form = new FormData();
  form.append('artwork', file);
  line.textContent = `${file.name}: judging`;
  const answer = await fetch('/uploads', { method: 'POST', body: form, headers: { Accept: 'application/json' } });
  if (!(answer.headers.get('Content-Type') || '').startsWith('application/json')) throw new Error(await words(answer));
  let [taken] = await answer.json();
  for (let wait = Number(answer.headers.get('Retry-After')) || 5; taken.busy;) {
    line.textContent = `${file.name}: ${taken.words}`;
    await pause(wait);
    const again = await fetch(taken.href); // it is kept, and judged when it is looked at
    taken = { ...taken, busy: again.status === 503, words: 'judged' };
  }
  line.textContent = `${file.name}: ${taken.words}`;
  return taken;
}

// words are what a page of trouble says.
async function words(answer) {
  const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
  return page.querySelector('.trouble')?.textContent.trim() || `the answer was ${answer.status}`;
}

// What is dropped while other files are being sent joins them; the page is left when all are done.
const batch = { left: [], done: [], refused: 0, sent: 0, atWork: 0 };

async function sendAll(files) {
  const list = byId('sending');
  if (!batch.atWork) {
    list.replaceChildren();
    Object.assign(batch, { left: [], done: [], refused: 0, sent: 0 });
  }
  list.hidden = false;
  batch.left.push(...files);
  batch.sent += files.length;
  say(batch.sent === 1 ? `Judging ${files[0].name}` : `Judging ${batch.sent} files`, true);
  const starting = [];
  while (batch.atWork < 2 && starting.length < files.length) starting.push(sendNext(list));
  await Promise.all(starting);
  if (batch.atWork || !starting.length) return;
  if (batch.refused) {
    say(`${batch.refused === 1 ? 'One file was' : `${batch.refused} files were`} not taken; the list says why.`, true);
    if (batch.done.length) list.appendChild(document.createElement('li')).innerHTML = '<a href="/">See the others</a>';
    return;
  }
  location.assign(batch.done.length === 1 ? batch.done[0].href : '/');
}

// sendNext sends one file after the other until none is left.
async function sendNext(list) {
  batch.atWork++;
  for (let file; (file = batch.left.shift());) {
    const line = list.appendChild(document.createElement('li'));
    try {
      const taken = await send(file, line);
      if (taken.href) batch.done.push(taken); else batch.refused++;
    } catch (e) {
      batch.refused++;
      line.textContent = `${file.name}: ${e instanceof TypeError ? lost : e.message}`;
    }
  }
  batch.atWork--;
}

function takeFiles() {
  for (const input of document.querySelectorAll('input[type=file]')) {
    input.addEventListener('change', () => { if (input.files.length) sendAll(input.files); });
  }
  let depth = 0;
  const has = e => [...(e.dataTransfer?.types || [])].includes('Files');
  const cover = on => { byId('dropping').hidden = !on; };
  document.addEventListener('dragenter', e => { if (has(e)) { depth++; cover(true); } });
  document.addEventListener('dragleave', e => { if (has(e) && --depth <= 0) { depth = 0; cover(false); } });
  document.addEventListener('dragover', e => { if (has(e)) e.preventDefault(); });
  document.addEventListener('drop', e => {
    if (!has(e)) return;
    e.preventDefault();
    depth = 0;
    cover(false);
    const folders = new Set([...e.dataTransfer.items].map(i => i.webkitGetAsEntry?.()).filter(i => i?.isDirectory).map(i => i.name));
    const files = [...e.dataTransfer.files].filter(f => !folders.has(f.name));
    if (files.length) sendAll(files);
    else say('This is a folder: open it, and drop the files in it.', true);
  });
}

// --- judging again

let underWay = null;

// go loads the page of an artwork judged otherwise and puts it in place of this one.
async function go(url) {
  underWay?.abort();
  const mine = underWay = new AbortController();
  byId('work').setAttribute('aria-busy', 'true');
  say('Judging', true);
  try {
    let answer = await fetch(url, { signal: mine.signal });
    while (answer.status === 503) {
      say(await words(answer), true);
      await pause(Number(answer.headers.get('Retry-After')) || 5);
      answer = await fetch(url, { signal: mine.signal });
    }
    const next = new DOMParser().parseFromString(await answer.text(), 'text/html');
    const work = next.getElementById('work');
    if (!work) {
      say(next.querySelector('.trouble')?.textContent.trim() || 'This cannot be judged so.', true);
      byId('work').removeAttribute('aria-busy');
      return;
    }
    const focused = document.activeElement?.id, open = [...document.querySelectorAll('#work details')].map(d => d.open);
    const layer = viewer?.layerName;
    byId('work').replaceWith(document.adoptNode(work));
    history.replaceState(null, '', url);
    begin(layer);
    if (open.length === document.querySelectorAll('#work details').length) document.querySelectorAll('#work details').forEach((d, i) => { d.open = open[i]; });
    if (focused) byId(focused)?.focus({ preventScroll: true });
    const said = byId('verdict')?.textContent.trim() || '';
    say(document.querySelector('.verdict-none') ? said : `Judged. ${said}`);
  } catch (e) {
    if (e.name === 'AbortError') return;
    byId('work').removeAttribute('aria-busy');
    say(lost, true);
  }
}

const addressOf = form => {
  const asked = new URLSearchParams();
  for (const [key, value] of new FormData(form)) if (value !== '') asked.append(key, value);
  return `${form.getAttribute('action')}?${asked}`;
};

// --- one artwork

function begin(layer) {
  viewer?.end();
  viewer = null;
  const box = byId('viewer');
  if (!box) return;
  const rows = [...document.querySelectorAll('.row')];
  viewer = new Viewer(box, rows);
  const choose = row => {
    for (const other of rows) other.removeAttribute('aria-current');
    row.setAttribute('aria-current', 'true');
    viewer.fly(row.dataset.id);
  };
  for (const row of rows) {
    row.disabled = 'sheet' in box.dataset;
    row.addEventListener('click', () => {
      choose(row);
      if (matchMedia('(max-width: 62rem)').matches) box.scrollIntoView({ block: 'start', behavior: still ? 'auto' : 'smooth' });
      say(`Number ${row.dataset.id} is in the middle of the picture.`);
    });
  }
  viewer.onTag = row => {
    const hidden = row.closest('details');
    if (hidden) hidden.open = true;
    choose(row);
    row.scrollIntoView({ block: 'nearest' });
    row.focus({ preventScroll: true });
  };
  for (const radio of document.querySelectorAll('[name=layer]')) {
    radio.addEventListener('change', () => viewer.show(radio.value));
    if (radio.value === layer) { radio.checked = true; viewer.show(layer); }
  }
  for (const mark of document.querySelectorAll('[name=mark]')) mark.addEventListener('change', () => viewer.level(mark.value, mark.checked));
  byId('copy')?.addEventListener('click', copyReply);
}

async function copyReply() {
  const reply = byId('reply');
  try {
    await navigator.clipboard.writeText(reply.value);
    say('The reply is copied.');
  } catch {
    reply.select(); // where the page may not write the clipboard, as over plain HTTP from another machine
    say('The reply is selected: copy it with Ctrl and C.');
  }
}

document.addEventListener('change', e => {
  const form = e.target.closest('form[data-live]');
  if (form && (form.id !== 'prepare' || 'sheet' in byId('viewer').dataset)) go(addressOf(form));
});
document.addEventListener('submit', e => {
  if (!e.target.matches('form[data-live]')) return;
  e.preventDefault();
  go(addressOf(e.target));
});
document.addEventListener('click', e => {
  const link = e.target.closest('a[data-live]');
  if (!link || e.ctrlKey || e.metaKey || e.shiftKey || e.button !== 0) return;
  e.preventDefault();
  go(link.getAttribute('href'));
});

document.body.classList.add('scripting');
takeFiles();
begin();
const again = byId('again');
if (again) {
  say(`This page tries again by itself in ${again.dataset.after} seconds.`, true);
  pause(+again.dataset.after).then(() => location.reload());
}
