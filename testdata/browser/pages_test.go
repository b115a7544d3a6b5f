package browser

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// outside skips, or with CALSPLICE_OUTSIDE=1 fails, where a judge is missing.
func outside(t *testing.T, what string) {
	t.Helper()
	if os.Getenv("CALSPLICE_OUTSIDE") == "1" {
		t.Fatalf("%s is missing", what)
	}
	t.Skipf("%s is not installed", what)
}

func chromium(t *testing.T) string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			return p
		}
	}
	outside(t, "Chromium")
	return ""
}

// pages runs the program's demo and the hostile document, and returns every
// page that came out.
func pages(t *testing.T) []string {
	dir := t.TempDir()
	bin := filepath.Join(dir, "calsplice")
	run(t, "../..", "go", "build", "-o", bin, "./cmd/calsplice")
	run(t, dir, bin, "demo", "-o", filepath.Join(dir, "demo"))
	hostile, err := filepath.Abs("hostile.json")
	if err != nil {
		t.Fatal(err)
	}
	run(t, dir, bin, "show", hostile, "-o", filepath.Join(dir, "demo", "hostile.html"))
	run(t, dir, bin, "events", filepath.Join(dir, "demo", "drive-1.csv"), "-o", filepath.Join(dir, "demo", "events.html"))
	for _, columns := range []int{24, 32, 64} {
		doc := filepath.Join(dir, fmt.Sprintf("wide-%d.json", columns))
		wide(t, doc, columns)
		run(t, dir, bin, "show", doc, "-o", filepath.Join(dir, "demo", fmt.Sprintf("wide-%d.html", columns)))
	}
	list, err := filepath.Glob(filepath.Join(dir, "demo", "*.html"))
	if err != nil || len(list) < 5 {
		t.Fatalf("%d pages came out (%v), want at least 5", len(list), err)
	}
	return list
}

// wide writes a calibration whose maps have so many columns: of long values, and
// of short ones.
func wide(t *testing.T, path string, columns int) {
	t.Helper()
	points := make([]float64, columns)
	long, short := make([]float64, 12*columns), make([]float64, 12*columns)
	for i := range points {
		points[i] = 400 + 250.5*float64(i)
	}
	for i := range long {
		long[i], short[i] = -1106.11-float64(i), float64(i%40)+.5
	}
	x := map[string]any{"quantity": "engine speed", "unit": "r/min", "points": points}
	y := map[string]any{"quantity": "air charge", "unit": "mg", "points": []int{50, 100, 150, 200, 250, 300, 350, 400, 450, 500, 550, 600}}
	text, err := json.Marshal(map[string]any{"format": "calsplice/1", "tables": []any{
		map[string]any{"id": "long", "unit": "deg", "x": x, "y": y, "values": grid(long, columns)},
		map[string]any{"id": "short", "unit": "deg", "x": x, "y": y, "values": grid(short, columns)},
		map[string]any{"id": "curve", "unit": "deg", "x": x, "values": long[:columns]}}})
	if err == nil {
		err = os.WriteFile(path, text, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
}

func grid(values []float64, columns int) [][]float64 {
	return slices.Collect(slices.Chunk(values, columns))
}

// run runs a program; status 1 is that it has something to report.
func run(t *testing.T, dir, name string, args ...string) {
	t.Helper()
	cmd := exec.Command(name, args...)
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil && cmd.ProcessState.ExitCode() != 1 {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
}

func browse(t *testing.T) context.Context {
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(chromium(t)), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 15*time.Minute)
	t.Cleanup(cancel)
	return ctx
}

func TestPages(t *testing.T) {
	ctx := browse(t)
	axe, err := os.ReadFile("node_modules/axe-core/axe.min.js")
	if err != nil {
		outside(t, "axe-core (npm install in testdata/browser)")
	}
	var said messages
	if err := chromedp.Listen(ctx, said.hear); err != nil {
		t.Fatal(err)
	}
	for _, path := range pages(t) {
		t.Run(filepath.Base(path), func(t *testing.T) {
			for _, width := range []int64{400, 800, 1280} {
				for _, scheme := range []string{"light", "dark"} {
					look(t, ctx, path, width, scheme, string(axe))
				}
			}
			look(t, ctx, path, 1050, "light", "")
			keyboard(t, ctx)
			paper(t, ctx)
			for _, line := range said.take() {
				t.Errorf("the console says: %s", line)
			}
		})
	}
}

// messages gathers what a page tells its console.
type messages struct {
	mu   sync.Mutex
	list []string
}

func (m *messages) hear(ev any) {
	m.mu.Lock()
	defer m.mu.Unlock()
	switch e := ev.(type) {
	case *log.EventEntryAdded:
		m.list = append(m.list, e.Entry.Text)
	case *runtime.EventConsoleAPICalled:
		m.list = append(m.list, "console."+string(e.Type))
	case *runtime.EventExceptionThrown:
		m.list = append(m.list, e.ExceptionDetails.Text)
	}
}

func (m *messages) take() []string {
	m.mu.Lock()
	defer m.mu.Unlock()
	list := m.list
	m.list = nil
	return list
}

// wideCells lists texts of grids that are wider than their cell, over the next one's.
const wideCells = `[...document.querySelectorAll("table.grid :is(td, th)")].filter(cell => {
  const text = document.createRange();
  text.selectNodeContents(cell);
  return cell.getClientRects().length && text.getBoundingClientRect().width > cell.getBoundingClientRect().width + 1;
}).slice(0, 3).map(cell => cell.textContent)`

// look opens a page at a width in a colour scheme: neither it nor a cell may overflow, it must
// have run nothing foreign, and must pass the audit where there is one.
func look(t *testing.T, ctx context.Context, path string, width int64, scheme, axe string) {
	_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
	if err == nil {
		err = chromedp.Do(ctx, chromedp.EmulateViewport(width, 900), chromedp.Navigate("file://"+path))
	}
	if err != nil {
		t.Fatal(err)
	}
	at := fmt.Sprintf("at %d px, %s", width, scheme)
	if over := eval[int](t, ctx, `document.documentElement.scrollWidth - document.documentElement.clientWidth`); over > 0 {
		t.Errorf("%s: the page is %d px wider than the window", at, over)
	}
	for _, text := range eval[[]string](t, ctx, wideCells) {
		t.Errorf("%s: %q is wider than its cell", at, text)
	}
	if eval[bool](t, ctx, `window.alerted === true`) {
		t.Errorf("%s: a script of the document ran", at)
	}
	if axe == "" {
		return
	}
	audit := axe + `;axe.run(document).then(r => r.violations.map(v => v.id + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160)).join(" | ")))`
	for _, f := range eval[[]string](t, ctx, audit, chromedp.EvalAwaitPromise) {
		t.Errorf("%s: %s", at, f)
	}
}

func eval[T any](t *testing.T, ctx context.Context, js string, opts ...chromedp.EvaluateOption) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](js, opts...))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// keyboard walks into the first grid and expects to be told the cell in words.
func keyboard(t *testing.T, ctx context.Context) {
	const first = `document.querySelector("table.grid tbody td")`
	if eval[int](t, ctx, `(document.querySelector("table.grid tbody tr")?.querySelectorAll("td") ?? []).length`) < 2 {
		return
	}
	eval[bool](t, ctx, first+`.focus(), true`)
	if err := chromedp.Do(ctx, chromedp.KeyEvent(kb.ArrowRight)); err != nil {
		t.Fatal(err)
	}
	if !eval[bool](t, ctx, `document.activeElement === `+first+`.nextElementSibling`) {
		t.Error("the right arrow does not move to the next cell")
	}
	if told := eval[string](t, ctx, `document.querySelector(".group").parentElement.querySelector("output").textContent`); told == "" {
		t.Error("the cell in focus is not told in words")
	}
}

// onPaper lists what is wrong with a page laid out for print: what reaches over
// the right margin, and columns that no printed table has.
const onPaper = `(() => {
  const faults = [], seen = e => e.getClientRects().length > 0;
  for (const e of document.querySelectorAll("h1, h2, p, li, dd, pre, svg, caption, th, td"))
    if (seen(e) && e.getBoundingClientRect().right > innerWidth + .5) faults.push("cut: " + e.tagName + " " + e.textContent.slice(0, 40));
  const lines = table => [...table.rows].map(row => [...row.cells].filter((c, i) => table.matches(".rows") ? i > 0 : c.tagName == "TD" || row.parentElement.tagName == "THEAD" && i > 0).map(c => c.textContent));
  for (const table of document.querySelectorAll(".scroll > table")) {
    const parts = [];
    if (seen(table)) parts.push(table);
    for (let e = table.parentElement.nextElementSibling; !seen(table) && e && e.matches(".paper"); e = e.nextElementSibling) if (seen(e)) parts.push(e.querySelector("table"));
    const printed = parts.map(lines);
    lines(table).forEach((line, i) => {
      if (table.tHead && i == 0 && table.matches(".grid")) line = line.filter(s => !s.includes("→"));
      const on = printed.flatMap(p => p[i]).filter(s => !(i == 0 && table.matches(".grid") && s.includes("→")));
      if (on.join("|") != line.join("|")) faults.push("row " + i + " of " + table.caption.textContent + " prints as " + on.join("|").slice(0, 80));
    });
  }
  return faults.slice(0, 5);
})()`

// paper lays the page out on A4 and Letter, where nothing may be cut or left
// out, and prints it.
func paper(t *testing.T, ctx context.Context) {
	for name, millimetres := range map[string]float64{"A4": 210, "Letter": 215.9} {
		width := int64((millimetres - 2*14) / 25.4 * 96) // between the margins of page.css
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		if err == nil {
			err = chromedp.Do(ctx, chromedp.EmulateViewport(width, 1000))
		}
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range eval[[]string](t, ctx, onPaper) {
			t.Errorf("on %s: %s", name, f)
		}
	}
	for _, size := range []chromedp.PaperSize{chromedp.PaperA4, chromedp.PaperLetter} {
		pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(size), chromedp.PDFPrintBackground()))
		if err != nil || len(pdf) < 5000 {
			t.Errorf("the printed page has %d bytes: %v", len(pdf), err)
		}
	}
}

// TestWithoutScript reads the pages with scripts switched off: the words and
// the numbers are all there.
func TestWithoutScript(t *testing.T) {
	ctx := browse(t)
	for _, path := range pages(t) {
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		if err == nil {
			err = chromedp.Do(ctx, chromedp.Navigate("file://"+path))
		}
		if err != nil {
			t.Fatal(err)
		}
		text, err := chromedp.Run(ctx, chromedp.Text("body"))
		if err != nil || len(text) < 200 {
			t.Errorf("%s: only %q is readable: %v", filepath.Base(path), text, err)
		}
	}
}
