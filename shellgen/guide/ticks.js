// Saves the ticks of this guide in the browser if it allows that; otherwise the boxes still work.
const boxes = [...document.querySelectorAll('input[type=checkbox]')];
const store = 'shellgen guide ' + document.body.dataset.guide;
let ticked = new Set();
try { ticked = new Set(JSON.parse(localStorage.getItem(store) || '[]')); } catch { document.getElementById('kept').hidden = true; }
const save = () => { try { localStorage.setItem(store, JSON.stringify([...ticked])); } catch { /* a private window */ } };
for (const box of boxes) {
  box.checked = ticked.has(box.id);
  box.addEventListener('change', () => { box.checked ? ticked.add(box.id) : ticked.delete(box.id); save(); });
}
document.getElementById('clear').addEventListener('click', () => {
  ticked.clear(); save();
  for (const box of boxes) box.checked = false;
});
