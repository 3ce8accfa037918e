// Files that are chosen or dropped on the bench page.
const LARGEST_FILE = 5_000_000; // [bytes]

export async function textOf(file, ...endings) {
  if (!endings.some((ending) => file.name.toLowerCase().endsWith(ending))) throw new Error(`${file.name} is no CSV file; nothing was taken.`);
  if (file.size > LARGEST_FILE) throw new Error(`${file.name} is larger than 5 MB; nothing was taken.`);
  return file.text();
}

export function dropping(area, input, taken) {
  input.addEventListener("change", () => {
    const file = input.files[0];
    input.value = ""; // so that the same file, mended, can be chosen again
    if (file) taken(file);
  });
  for (const kind of ["dragover", "dragleave", "drop"]) {
    area.addEventListener(kind, (event) => {
      event.preventDefault();
      area.classList.toggle("over", kind === "dragover");
      if (kind === "drop" && event.dataTransfer.files[0]) taken(event.dataTransfer.files[0]);
    });
  }
}
