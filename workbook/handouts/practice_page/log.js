// The log: minutes under each line, and the file that a student can send.
const minutesOf = (line, kept) => `${(kept.minutes[line.figure] ?? 0).toFixed(1)}`;

export function paintMinutes(lines, kept) {
  for (const line of lines) {
    const row = document.querySelector(`[data-minutes="${line.figure}"]`);
    if (row) row.textContent = `${minutesOf(line, kept)} min`;
  }
}

function words(data, kept) {
  const rows = data.lines.map((line) => {
    const ticked = kept.ticks[`line-${line.figure}`] ? ", practised" : "";
    return `${line.name}: ${minutesOf(line, kept)} minutes${ticked}`;
  });
  return [`Practice log: ${data.title}`, new Date().toISOString().slice(0, 10), ...rows, ""].join("\n");
}

// The log as a text file, saved by the browser.
export function report(data, kept) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([words(data, kept)], { type: "text/plain" }));
  link.download = "practice-log.txt";
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}
