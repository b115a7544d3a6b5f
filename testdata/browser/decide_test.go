package browser

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"html"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// A decider is a person at a page that decides: its folder, the program, the
// browser, and where the browser saves.
type decider struct {
	t    *testing.T
	ctx  context.Context
	dir  string
	bin  string
	axe  string
	page string
}

func newDecider(t *testing.T) *decider {
	ctx := browse(t)
	axe, err := os.ReadFile("node_modules/axe-core/axe.min.js")
	if err != nil {
		outside(t, "axe-core (npm install in testdata/browser)")
	}
	d := &decider{t: t, ctx: ctx, dir: t.TempDir(), axe: string(axe)}
	d.bin = filepath.Join(d.dir, "calsplice")
	run(t, "../..", "go", "build", "-o", d.bin, "./cmd/calsplice")
	return d
}

// does runs the program in the folder and returns its exit status.
func (d *decider) does(args ...string) (status int, out string) {
	d.t.Helper()
	cmd := exec.Command(d.bin, args...)
	cmd.Dir = d.dir
	b, _ := cmd.CombinedOutput()
	return cmd.ProcessState.ExitCode(), string(b)
}

func (d *decider) write(name, text string) {
	d.t.Helper()
	if err := os.WriteFile(filepath.Join(d.dir, name), []byte(text), 0o644); err != nil {
		d.t.Fatal(err)
	}
}

func (d *decider) read(name string) []byte {
	d.t.Helper()
	b, err := os.ReadFile(filepath.Join(d.dir, name))
	if err != nil {
		d.t.Fatal(err)
	}
	return b
}

// open opens a page of the folder.
func (d *decider) open(page string, width int64) {
	d.t.Helper()
	d.page = page
	allow := func(ctx context.Context, _ *chromedp.Target) error {
		yes := true
		_, err := chromedp.Call(ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
			Behavior: browser.SetDownloadBehaviorBehaviorAllow, DownloadPath: d.dir, EventsEnabled: &yes})
		return err
	}
	url := "file://" + strings.ReplaceAll(filepath.Join(d.dir, page), " ", "%20")
	if err := chromedp.Do(d.ctx, chromedp.EmulateViewport(width, 900), chromedp.Navigate(url), chromedp.Func(allow)); err != nil {
		d.t.Fatal(err)
	}
}

func (d *decider) press(keys ...string) {
	d.t.Helper()
	for _, k := range keys {
		if err := chromedp.Do(d.ctx, chromedp.KeyEvent(k)); err != nil {
			d.t.Fatal(err)
		}
	}
}

// tab presses Tab until an element that matches has the focus, as a person
// without a pointer gets to it.
func (d *decider) tab(selector string) {
	d.t.Helper()
	for range 400 {
		d.press(kb.Tab)
		if eval[bool](d.t, d.ctx, fmt.Sprintf(`document.activeElement.matches(%q)`, selector)) {
			return
		}
	}
	d.t.Fatalf("Tab never comes to %s", selector)
}

// clear empties the field in focus and types.
func (d *decider) types(text string) {
	d.t.Helper()
	eval[bool](d.t, d.ctx, `document.activeElement.select(), true`)
	d.press(text)
}

func (d *decider) text(selector string) string {
	d.t.Helper()
	return eval[string](d.t, d.ctx, fmt.Sprintf(`[...document.querySelectorAll(%q)].map(e => e.textContent).join("|")`, selector))
}

// printed is the first element that matches as paper shows it; "" where paper does not.
func (d *decider) printed(selector string) (text string) {
	d.t.Helper()
	for _, media := range []string{"print", ""} {
		if _, err := chromedp.Call(d.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: media}); err != nil {
			d.t.Fatal(err)
		}
		if media != "" {
			text = eval[string](d.t, d.ctx, fmt.Sprintf(`(() => { const e = document.querySelector(%q); return e.getClientRects().length ? e.textContent : ""; })()`, selector))
		}
	}
	return text
}

// sound audits the page as it stands.
func (d *decider) sound(state string) {
	d.t.Helper()
	audit := d.axe + `;axe.run(document).then(r => r.violations.map(v => v.id + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 200)).join(" | ")))`
	for _, f := range eval[[]string](d.t, d.ctx, audit, chromedp.EvalAwaitPromise) {
		d.t.Errorf("%s: %s", state, f)
	}
}

// save presses the button at the foot by the keyboard and returns what is saved.
func (d *decider) save(name string) []byte {
	d.t.Helper()
	os.Remove(filepath.Join(d.dir, name))
	done := chromedp.Events(d.ctx, browser.DownloadProgress)
	if eval[int](d.t, d.ctx, `document.querySelectorAll("tr[data-k]").length`) < 100 {
		d.tab("#save")
	} else {
		eval[bool](d.t, d.ctx, `document.getElementById("save").focus(), true`)
	}
	d.press(kb.Enter)
	for e, err := range done {
		if err != nil {
			d.t.Fatal(err)
		}
		if e.State == browser.DownloadProgressStateCompleted {
			break
		}
	}
	return d.read(name)
}

const flowVan = `{"format": "calsplice/1", "name": "van", "engine": {"rail_pressure": {"value": 380, "unit": "kPa", "relative_to": "atmosphere"}}, "tables": [
  {"id": "flow", "title": "Injector flow", "role": "injector.flow", "unit": "g/s", "resolution": 0.001, "limits": [0, 12],
   "x": {"quantity": "differential pressure", "unit": "kPa", "points": [300, 350, 400, 450]}, "values": [2.425, 2.62, 2.8, 2.97]},
  {"id": "spark", "title": "Spark advance", "unit": "deg", "resolution": 0.25, "limits": [-10, 50],
   "x": {"quantity": "engine speed", "unit": "r/min", "points": [800, 1600, 2400, 3200]}, "y": {"quantity": "air charge", "unit": "mg", "points": [120, 240, 360]},
   "values": [[12, 18, 24, 28], [10, 16, 22, 26], [8, 12, 18, 22]]}]}`

func (d *decider) changed() {
	d.write("old.json", flowVan)
	r := strings.NewReplacer("2.425, 2.62, 2.8, 2.97", "2.3, 2.51, 2.68, 2.83", "[10, 16, 22, 26]", "[9, 14, 20.5, 26]", `"van"`, `"van, corrected"`)
	d.write("new.json", r.Replace(flowVan))
	d.does("diff", "old.json", "new.json", "-o", "changes.json")
	d.does("diff", "old.json", "new.json", "-o", "a review.html")
}

// With everything kept, what is saved is the very change set, and one line more.
func TestAllKeptIsTheChangeSet(t *testing.T) {
	d := newDecider(t)
	d.changed()
	d.open("a review.html", 1280)
	saved := d.save("a review.reviewed.json")
	want := d.read("changes.json")
	if got := bytes.Replace(saved, []byte(",\n  \"left_out\": 0"), nil, 1); !bytes.Equal(got, want) {
		t.Errorf("saved\n%s\nwant\n%s", saved, want)
	}
	if status, out := d.does("apply", "old.json", "a review.reviewed.json", "-o", "applied.json"); status != 0 {
		t.Fatalf("apply: %d, %s", status, out)
	}
	if !bytes.Equal(d.read("applied.json"), d.canonical("new.json")) {
		t.Error("what was saved does not make the new calibration")
	}
}

func (d *decider) canonical(name string) []byte {
	d.does("convert", name, "-o", "canonical.json")
	return d.read("canonical.json")
}

// A review by the keyboard alone: one edit left out, one typed, one not valid.
func TestReviewByKeyboard(t *testing.T) {
	d := newDecider(t)
	d.changed()
	d.open("a review.html", 1280)
	d.sound("at first")
	at := func() string {
		return eval[string](t, d.ctx, `(document.activeElement.getAttribute("aria-label") || document.activeElement.id) + " " + (document.activeElement.value || "")`)
	}
	d.tab(`input[aria-label="Injector flow, 300 kPa"]`)
	d.press(" ", kb.ArrowDown)
	if got := at(); !strings.HasPrefix(got, "Injector flow, 350 kPa") {
		t.Errorf("the arrow goes to %s", got)
	}
	d.sound("one left out")
	if got := d.text(`section[aria-label="What the edits do"] h2`); got != "What the edits do, as they were proposed" {
		t.Errorf("what all edits do is headed %q once one is left out", got)
	}
	if !eval[bool](t, d.ctx, `document.querySelector('input[aria-label="Keep all edits of Injector flow"]').indeterminate`) {
		t.Error("the table's box does not show that some are left out")
	}
	d.press(kb.ArrowRight)
	if got := at(); got != "New value, Injector flow, 350 kPa, 0 to 12 g/s 2.51" {
		t.Errorf("the right arrow goes to %s", got)
	}
	d.types("13")
	if got := d.text(".err"); !strings.Contains(got, "over 12 g/s") || !eval[bool](t, d.ctx, `document.activeElement.getAttribute("aria-invalid") === "true"`) {
		t.Errorf("13 g/s is told to be %q", got)
	}
	if !eval[bool](t, d.ctx, `document.getElementById("save").getAttribute("aria-disabled") === "true"`) {
		t.Error("an invalid value can be saved")
	}
	d.sound("an invalid value")
	d.tab("#save")
	d.press(kb.Enter)
	if got := at(); !strings.HasPrefix(got, "New value, Injector flow, 350 kPa") {
		t.Errorf("the button goes to %s instead of the field that is not valid", got)
	}
	d.types("2,555") // which its limits tell from 2555
	if got := d.text(".err"); strings.Trim(got, "|") != "" {
		t.Errorf("2,555 g/s is told to be %q", got)
	}
	d.types("2,5554")
	d.press(kb.ArrowDown, kb.ArrowUp)
	if got := at(); !strings.HasSuffix(got, "2.555") {
		t.Errorf("a typed value is shown as %s", got)
	}
	saved := d.save("a review.reviewed.json")
	d.sound("a saved file")
	if got := d.printed(".tally dl > div"); got != "Kept7 of 8edits" {
		t.Errorf("on paper the decisions are %q", got)
	}
	var set struct {
		LeftOut int `json:"left_out"`
		Edits   []struct {
			Table string
			At    []int
			To    float64
		}
	}
	if err := json.Unmarshal(saved, &set); err != nil || set.LeftOut != 1 || len(set.Edits) != 7 {
		t.Fatalf("saved %s: %v", saved, err)
	}
	if e := set.Edits[1]; e.Table != "flow" || e.To != 2.555 || e.At[1] != 1 {
		t.Errorf("the typed edit is saved as %+v", e)
	}
	status, out := d.does("apply", "old.json", "a review.reviewed.json", "-o", "applied.json")
	if status != 0 || !strings.Contains(out, "1 edit was left out in review") {
		t.Errorf("apply: %d, %s", status, out)
	}
	_, shown := d.does("show", "applied.json", "--table", "flow", "--json")
	if !strings.Contains(shown, "[2.425, 2.555, 2.68, 2.83]") {
		t.Errorf("applied is %s", shown)
	}
	if status, out := d.does("apply", "applied.json", "a review.reviewed.json", "-R", "-o", "back.json"); status != 0 || !bytes.Equal(d.read("back.json"), d.canonical("old.json")) {
		t.Errorf("reversed: %d, %s", status, out)
	}
}

var fact = regexp.MustCompile(`<dt>([^<]*)</dt><dd>([^<]*)</dd>`)

// told are the facts of a page as the program wrote them.
func (d *decider) told(page string) map[string]string {
	facts := map[string]string{}
	for _, m := range fact.FindAllStringSubmatch(string(d.read(page)), -1) {
		facts[m[1]] = strings.ReplaceAll(html.UnescapeString(m[2]), "\u00a0", " ")
	}
	return facts
}

// A comma before three digits is read where limits leave one reading, and else refused.
func TestTwoReadings(t *testing.T) {
	d := newDecider(t)
	const doc = `{"format": "calsplice/1", "tables": [{"id": "load", "unit": "mg", "x": {"quantity": "engine speed", "unit": "r/min", "points": [800]}, "values": [900]}]}`
	d.write("old.json", doc)
	d.write("new.json", strings.Replace(doc, "900", "950", 1))
	d.does("diff", "old.json", "new.json", "-o", "load.html")
	d.open("load.html", 1280)
	d.tab("input.field")
	for typed, want := range map[string]string{"1,250": "two readings: type 1.250 or 1250", "-1,250": "two readings: type -1.250 or -1250", "1,25": "", "0,125": "", "1.250": "", "1250": "", "1,250,000": "not a number"} {
		if d.types(typed); d.text(".err") != want {
			t.Errorf("%s: %q, want %q", typed, d.text(".err"), want)
		}
	}
}

// The page works out fuel and steps as the program does: the values that a
// person types are applied, and the program's own page of the result must say
// the same.
func TestPageAndProgramReckonAlike(t *testing.T) {
	d := newDecider(t)
	d.changed()
	src := rand.New(rand.NewPCG(22, 1))
	for range 12 {
		d.open("a review.html", 1280)
		n := eval[int](t, d.ctx, `document.querySelectorAll(".field").length`)
		for i := range n {
			flow := eval[bool](t, d.ctx, fmt.Sprintf(`document.querySelectorAll(".field")[%d].getAttribute("aria-label").includes("flow")`, i))
			v := fmt.Sprint(float64(src.IntN(200))/4 - 9)
			if flow {
				v = fmt.Sprint(1 + float64(src.IntN(5000))/1000)
			}
			eval[bool](t, d.ctx, fmt.Sprintf(`(() => { const f = document.querySelectorAll(".field")[%d]; f.value = %q; f.dispatchEvent(new Event("input", {bubbles: true})); return true; })()`, i, v))
		}
		bar := map[string]string{}
		for _, f := range eval[[][]string](t, d.ctx, `[...document.querySelectorAll(".tally dl > div")].map(e => [e.querySelector("dt").textContent, e.querySelector("dd").firstChild.textContent, e.querySelector("small")?.textContent ?? ""])`) {
			bar[f[0]] = f[1]
			if strings.HasPrefix(f[2], "was ") {
				bar[f[0]] += ", " + f[2]
			}
		}
		d.save("a review.reviewed.json")
		if status, out := d.does("apply", "old.json", "a review.reviewed.json", "-o", "applied.json"); status != 0 {
			t.Fatalf("apply: %d, %s", status, out)
		}
		d.does("diff", "old.json", "applied.json", "-o", "applied.html")
		told := d.told("applied.html")
		if fuel := told["Fuel at full load"]; fuel == "" || !strings.HasPrefix(fuel, bar["Fuel at full load"]+" (") {
			t.Errorf("fuel: the page says %q, the program %q", bar["Fuel at full load"], fuel)
		}
		for _, table := range []string{"Largest step, Injector flow", "Largest step, Spark advance"} {
			// Where flow falls with pressure the bar warns of that instead.
			if got, want := bar[table], told[table]; want == "" || got != want && !(strings.HasSuffix(table, "flow") && strings.HasPrefix(want, got+",")) {
				t.Errorf("%s: the page says %q, the program %q", table, got, want)
			}
		}
	}
}

// Conflicts decided by the keyboard: a curve in one question, a cell by a typed
// value, a title in words; what is left stays listed.
func TestSettleByKeyboard(t *testing.T) {
	d := newDecider(t)
	d.write("base.json", flowVan)
	d.write("ours.json", strings.NewReplacer("2.425, 2.62", "2.3, 2.5", "[12, 18,", "[11, 17,", "Spark advance", "Spark").Replace(flowVan))
	d.write("theirs.json", strings.NewReplacer("2.425, 2.62", "2.4, 2.6", "[12, 18,", "[10, 16,", "Spark advance", "Ignition").Replace(flowVan))
	if status, out := d.does("merge", "base.json", "ours.json", "theirs.json", "-o", "m.json"); status != 1 {
		t.Fatalf("merge: %d, %s", status, out)
	}
	if status, out := d.does("resolve", "m.json", "-o", "de cide.html"); status != 1 {
		t.Fatalf("resolve: %d, %s", status, out)
	}
	d.open("de cide.html", 1280)
	d.sound("nothing decided")
	if got := d.text(".tally dd"); !strings.HasPrefix(got, "0 of 5") {
		t.Errorf("at first the bar says %s", got)
	}
	d.tab(`input[type=radio]`)
	d.press(" ", kb.ArrowDown) // theirs, of the whole curve
	if got := d.text(".tally dd"); !strings.HasPrefix(got, "2 of 5") {
		t.Errorf("after a curve the bar says %s", got)
	}
	d.tab(`input[aria-label^="New value, Spark, 800 r/min, 120 mg"], input[aria-label^="New value, Spark advance, 800 r/min, 120 mg"]`)
	d.types("60")
	d.sound("an invalid value")
	if got := d.text(".err"); !strings.Contains(got, "over 50 deg") {
		t.Errorf("60 degrees are told to be %q", got)
	}
	d.types("11.5")
	saved := d.save("de cide.decisions.json")
	d.sound("a saved file")
	var file struct {
		Format    string
		Merged    struct{ Name, SHA256 string }
		Decisions []map[string]any
	}
	if err := json.Unmarshal(saved, &file); err != nil || file.Format != "calsplice.decisions/1" || len(file.Merged.SHA256) != 64 || len(file.Decisions) != 3 {
		t.Fatalf("saved %s: %v", saved, err)
	}
	if status, out := d.does("resolve", "m.json", "--decisions", "de cide.decisions.json", "-o", "m.json"); status != 1 || !strings.Contains(out, "2 conflicts left") {
		t.Errorf("resolve: %d, %s", status, out)
	}
	_, shown := d.does("show", "m.json", "--json")
	for _, want := range []string{"[2.4, 2.6, 2.8, 2.97]", "[11.5, 17, 24, 28]"} {
		if !strings.Contains(shown, want) {
			t.Errorf("resolved lacks %s: %s", want, shown)
		}
	}
}

// An added table that another follows may be left out; so may be an order.
func TestLeftOutTables(t *testing.T) {
	d := newDecider(t)
	one := func(ids ...string) string {
		var list []string
		for _, id := range ids {
			list = append(list, fmt.Sprintf(`{"id": %q, "unit": "ms", "values": 1}`, id))
		}
		return `{"format": "calsplice/1", "tables": [` + strings.Join(list, ", ") + `]}`
	}
	d.write("old.json", one("a", "b"))
	d.write("new.json", one("b", "x", "y", "z", "a"))
	d.does("diff", "old.json", "new.json", "-o", "p.html")
	d.open("p.html", 1280)
	for _, id := range []string{"x", "y"} {
		d.tab(fmt.Sprintf(`input[data-k][aria-label^="%s, table added"]`, id))
		d.press(" ")
	}
	d.save("p.reviewed.json")
	if status, out := d.does("apply", "old.json", "p.reviewed.json", "-o", "applied.json"); status != 0 {
		t.Fatalf("apply: %d, %s\n%s", status, out, d.read("p.reviewed.json"))
	}
	if got := d.read("applied.json"); bytes.Index(got, []byte(`"b"`)) > bytes.Index(got, []byte(`"z"`)) || bytes.Index(got, []byte(`"z"`)) > bytes.Index(got, []byte(`"a"`)) || bytes.Contains(got, []byte(`"x"`)) {
		t.Errorf("applied is %s", got)
	}
}

// A page of many cells makes its rows when they are asked for.
func TestManyCells(t *testing.T) {
	d := newDecider(t)
	src := rand.New(rand.NewPCG(4, 4))
	big := func() string {
		points := make([]float64, 200)
		rows := make([][]float64, 200)
		for i := range points {
			points[i] = float64(i + 1)
			rows[i] = make([]float64, 200)
			for k := range rows[i] {
				rows[i][k] = float64(src.IntN(1000)) / 10
			}
		}
		axis := func(q string) map[string]any { return map[string]any{"quantity": q, "unit": "%", "points": points} }
		b, _ := json.Marshal(map[string]any{"format": "calsplice/1", "tables": []any{map[string]any{"id": "big", "unit": "deg", "x": axis("load"), "y": axis("demand"), "values": rows}}})
		return string(b)
	}
	d.write("old.json", big())
	d.write("new.json", big())
	d.does("diff", "old.json", "new.json", "-o", "big.html")
	d.open("big.html", 1280)
	if n := eval[int](t, d.ctx, `document.querySelectorAll("tr[data-k]").length`); n > 200 {
		t.Errorf("%d rows are made at first", n)
	}
	d.tab(`input[aria-label="Keep all edits of big"]`)
	d.press(" ")
	if got := d.text(".tally dd"); !strings.HasPrefix(got, "0 of ") {
		t.Errorf("with nothing kept the bar says %s", got)
	}
	d.tab(`button[aria-controls]`)
	d.press(kb.Enter)
	d.tab(`tr[data-k] input[type=checkbox]`)
	d.press(" ")
	if got := d.text(".tally dd"); !strings.HasPrefix(got, "1 of ") {
		t.Errorf("with one kept the bar says %s", got)
	}
	d.save("big.reviewed.json")
	if status, out := d.does("apply", "old.json", "big.reviewed.json", "-o", "applied.json"); status != 0 {
		t.Errorf("apply: %d, %s", status, out)
	}
}

// On a phone what is touched is large enough, and nothing runs over; so at twice
// the size on a small screen.
func TestTouchAndZoom(t *testing.T) {
	d := newDecider(t)
	d.changed()
	for _, width := range []int64{390, 640} {
		d.open("a review.html", width)
		if over := eval[int](t, d.ctx, `document.documentElement.scrollWidth - document.documentElement.clientWidth`); over > 0 {
			t.Errorf("at %d px the page is %d px wider than the window", width, over)
		}
		for _, small := range eval[[]string](t, d.ctx, `[...document.querySelectorAll("label.tick, .field, button")].filter(e => e.getClientRects().length && e.getBoundingClientRect().height < 43.5).map(e => e.outerHTML.slice(0, 120))`) {
			t.Errorf("at %d px too small to touch: %s", width, small)
		}
	}
}

// Hostile names run nothing, not in fields that can be edited either, and come
// back as they were in what is saved.
func TestHostileNamesInDecisions(t *testing.T) {
	d := newDecider(t)
	hostile, err := os.ReadFile("hostile.json")
	if err != nil {
		t.Fatal(err)
	}
	d.write("old.json", string(hostile))
	d.write("new.json", strings.NewReplacer("[1, 2]}", "[1, 3]}", `"name": "`, `"name": "'new' `, `"title": "`, `"title": "\"</script><script>window.alerted=true</script>`).Replace(string(hostile)))
	d.write("third.json", strings.NewReplacer("[1, 2]}", "[1, 4]}", `"name": "`, `"name": "'third' `, `"title": "`, `"title": "<img src=x onerror=window.alerted=true>`).Replace(string(hostile)))
	d.does("diff", "old.json", "new.json", "-o", "changes.json")
	d.does("diff", "old.json", "new.json", "-o", "p.html")
	d.does("merge", "old.json", "new.json", "third.json", "-o", "m.json")
	d.does("resolve", "m.json", "-o", "q.html")
	for _, page := range []string{"p.html", "q.html"} {
		d.open(page, 1280)
		eval[bool](t, d.ctx, `document.querySelectorAll(".field").forEach(f => { f.value = "<img src=x onerror=window.alerted=true>"; f.dispatchEvent(new Event("input", {bubbles: true})); }), true`)
		d.sound(page)
		if eval[bool](t, d.ctx, `window.alerted === true`) {
			t.Errorf("%s: a script of the document ran", page)
		}
	}
	d.open("p.html", 1280)
	saved := d.save("p.reviewed.json")
	if got := bytes.Replace(saved, []byte(",\n  \"left_out\": 0"), nil, 1); !bytes.Equal(got, d.read("changes.json")) {
		t.Errorf("saved\n%s\nwant\n%s", saved, d.read("changes.json"))
	}
}

// Without scripts the pages read as reports: every edit and every conflict is in
// the text, and nothing looks as if it could be pressed.
func TestDecidePagesWithoutScript(t *testing.T) {
	d := newDecider(t)
	d.changed()
	d.does("merge", "old.json", "new.json", "old.json", "-o", "m.json")
	_, err := chromedp.Call(d.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	if err == nil {
		err = chromedp.Do(d.ctx, chromedp.Navigate("file://"+strings.ReplaceAll(filepath.Join(d.dir, "a review.html"), " ", "%20")))
	}
	if err != nil {
		t.Fatal(err)
	}
	text, err := chromedp.Run(d.ctx, chromedp.Text("body"))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"350 kPa", "2.51", "2400 r/min, 240 mg", "Fuel at full load"} {
		if !strings.Contains(text, want) {
			t.Errorf("without scripts the page lacks %q", want)
		}
	}
	if strings.Contains(text, "Keys:") || strings.Contains(text, "Save kept edits") {
		t.Error("without scripts the page speaks of keys")
	}
}
