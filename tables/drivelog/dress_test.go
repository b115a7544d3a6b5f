package drivelog

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/rows"
)

// A drive of an invented engine, written down in many dresses: whatever the
// dress, either the plain one's samples are read, or the log is refused, or a
// fault is named. Never are other numbers read without a word.

// ride is what the engine does at a time: it pulls through its gears, and lifts.
func ride(t float64) (rpm, kpa, throttle, speed float64) {
	if t < 103 { // idling first
		return math.Round(930 + 90*math.Sin(2*t)), 34 + math.Sin(3*t), 8, 25
	}
	const gear, shift = 5.0, 0.5
	at := math.Mod(t-103, gear)
	pull := min(at/(gear-shift), 1)
	lift := max(0, at-gear+shift) / shift
	rpm = 1900 + 3300*pull - 3300*lift
	throttle = 8 + 54*min(1, at/0.3) - 54*min(1, lift/0.4)
	return math.Round(rpm), 30 + throttle, throttle, 60 - 35*math.Cos(t/12)
}

// dress is a way to write it down.
type dress struct {
	decimal, group, delim string
	quote                 string // "" none, "all", "need" as RFC 4180 needs
	wholes                bool   // no decimals at all
	clock                 func(t float64) string
	clockHead             string
	trim                  func(percent float64) float64
	trimPlaces            int
	trimHead              string
	mapHead               string
	kpa                   func(kpa float64) float64
	step                  float64
	rows                  int
}

func plainDress(step float64, rows int) dress {
	return dress{decimal: ".", delim: ",", clockHead: "time (s)", trimHead: "%s (%%)", step: step, rows: rows, trimPlaces: 2,
		trim: func(v float64) float64 { return v }, mapHead: "MAP (kPa)", kpa: func(v float64) float64 { return v }}
}

func (d dress) number(v float64, places int) string {
	if d.wholes {
		places = 0
	}
	whole, frac, _ := strings.Cut(fmt.Sprintf("%.*f", places, math.Abs(v)), ".")
	for i := len(whole) - 3; i > 0 && d.group != ""; i -= 3 {
		whole = whole[:i] + d.group + whole[i:]
	}
	if frac != "" {
		whole += d.decimal + frac
	}
	if v < 0 {
		whole = "-" + whole
	}
	return whole
}

func (d dress) cell(s string) string {
	if d.quote == "all" || d.quote == "need" && strings.Contains(s, d.delim) {
		return `"` + s + `"`
	}
	return s
}

func (d dress) row(t float64) []string {
	rpm, kpa, throttle, speed := ride(t)
	k := int(math.Round(t / d.step))
	stft, ltft := float64(k%21-10)*0.78, float64(k/50%5)*0.39
	when := d.number(t, 3)
	if d.clock != nil {
		when = d.clock(t)
	}
	return []string{when, d.number(rpm, 0), d.number(d.kpa(kpa), 7), d.number(throttle, 1), d.number(speed, 1), d.number(13.5+stft/40, 2),
		d.number(d.trim(stft), d.trimPlaces), d.number(d.trim(ltft), d.trimPlaces)}
}

func (d dress) head() []string {
	return []string{d.clockHead, "RPM", d.mapHead, "Throttle (%)", "Vehicle speed (km/h)", "Battery (V)",
		fmt.Sprintf(d.trimHead, "STFT B1"), fmt.Sprintf(d.trimHead, "LTFT B1")}
}

func (d dress) line(cells []string) string {
	var out []string
	for _, c := range cells {
		out = append(out, d.cell(c))
	}
	return strings.Join(out, d.delim) + "\n"
}

func (d dress) write() string {
	var b strings.Builder
	b.WriteString(d.line(d.head()))
	for i := range d.rows {
		b.WriteString(d.line(d.row(100 + float64(i)*d.step)))
	}
	return b.String()
}

var dressColumns = []string{"engine_speed", "manifold_pressure", "throttle", "speed", "battery", "trim"}

// reading is what a log gives: its samples in full, or why not.
type reading struct {
	rows   [][]float64
	faults []rows.Fault
	said   string
	err    error
}

func readDress(text string, opt Options, columns ...string) (r reading) {
	l, err := Open("-", strings.NewReader(text), opt)
	if err != nil {
		return reading{err: err}
	}
	defer l.Close()
	var rd *Reading
	rd, r.err = l.Scan(context.Background(), Query{Columns: columns}, func(f *Frame) error {
		for i := range f.N {
			row := []float64{f.Time[i]}
			for _, c := range f.Columns {
				row = append(row, c.Value[i])
			}
			r.rows = append(r.rows, row)
		}
		return nil
	})
	if r.err != nil {
		return r
	}
	sv, err := l.Survey(context.Background())
	if err != nil {
		return reading{err: err}
	}
	r.faults, r.said = sv.Faults, strings.Join(rd.Notes, "; ")
	return r
}

// differs says where samples are not the plain dress's, "" where they are: times
// from the first one on.
func (r *reading) differs(plain *reading, within float64) string {
	if len(r.rows) != len(plain.rows) {
		return fmt.Sprintf("%d rows, expected %d", len(r.rows), len(plain.rows))
	}
	for i, row := range r.rows {
		for k, v := range row {
			w := plain.rows[i][k]
			if k == 0 {
				v, w = v-r.rows[0][0], w-plain.rows[0][0]
			}
			if math.Abs(v-w) > within || (v == v) != (w == w) {
				return fmt.Sprintf("row %d, value %d is %v, expected %v", i, k, v, w)
			}
		}
	}
	return ""
}

// oneWay is the law; must says that this dress is to be read and not refused.
func oneWay(t *testing.T, name string, d, plain dress, must bool) {
	t.Helper()
	want := readDress(plain.write(), Options{}, dressColumns...)
	if want.err != nil || len(want.faults) > 0 {
		t.Fatalf("%s: the plain dress: %v %v", name, want.err, want.faults)
	}
	got := readDress(d.write(), Options{}, dressColumns...)
	switch {
	case got.err == nil && len(got.faults) == 0:
		if diff := got.differs(&want, 2e-5); diff != "" {
			t.Errorf("%s: other numbers without a word: %s\n%s", name, diff, d.write()[:300]) // promise: never silent
		}
	case must && got.err != nil:
		t.Errorf("%s: refused: %v", name, got.err)
	case must:
		t.Errorf("%s: faults %v", name, got.faults)
	}
}

// TestNumbersInAnyDress: every decimal mark, separator, delimiter and quoting.
func TestNumbersInAnyDress(t *testing.T) {
	for _, wholes := range []bool{false, true} {
		for _, decimal := range []string{".", ","} {
			for _, group := range []string{"", ".", ",", " ", "\u00a0", "\u2009", "\u202f", "'", "\u2019"} {
				for _, delim := range []string{",", ";", "\t", "|"} {
					for _, quote := range []string{"", "need", "all"} {
						if group == decimal {
							continue
						}
						d := plainDress(0.1, 300)
						d.wholes = wholes
						plain := d
						d.decimal, d.group, d.delim, d.quote = decimal, group, delim, quote
						name := fmt.Sprintf("decimal %q group %q delimiter %q quotes %q wholes %v", decimal, group, delim, quote, wholes)
						inPlace := quote != "" || group != delim && (decimal != delim || wholes)
						if wholes {
							d.clock, plain.clock = isoClock, isoClock
						}
						oneWay(t, name, d, plain, inPlace)
					}
				}
			}
		}
	}
}

func isoClock(t float64) string {
	return "2031-05-12T" + stamp(int(math.Round(t*1000)))
}

// TestClocksInAnyUnit: a clock without a unit, in every unit, at the rates of
// loggers from two seconds a row to 1 kHz.
func TestClocksInAnyUnit(t *testing.T) {
	of := func(perSecond float64, places int, zero float64) func(float64) string {
		return func(t float64) string { return fmt.Sprintf("%.*f", places, t*perSecond+zero) }
	}
	const epoch = 1936339200
	for unit, clock := range map[string]func(float64) string{
		"s":           of(1, 3, 0),
		"ms":          of(1e3, 0, 0),
		"us":          of(1e6, 0, 0),
		"ns":          of(1e9, 0, 0),
		"min":         of(1.0/60, 7, 0),
		"h":           of(1.0/3600, 9, 0),
		"day":         of(1.0/86400, 11, 0),
		"spreadsheet": of(1.0/86400, 11, 47980),
		"epoch s":     of(1, 3, epoch),
		"epoch ms":    of(1e3, 0, epoch*1e3),
		"epoch us":    of(1e6, 0, epoch*1e6),
		"epoch ns":    func(t float64) string { return fmt.Sprintf("%d%09.0f", epoch+int(t), math.Mod(t, 1)*1e9) },
		"iso":         isoClock,
		"hh:mm:ss":    func(t float64) string { return stamp(36000000 + int(math.Round(t*1000))) },
	} {
		for _, step := range []float64{0.001, 0.005, 0.02, 0.1, 1, 2} {
			d := plainDress(step, 3000)
			plain := d
			d.clock, d.clockHead = clock, "time"
			name := fmt.Sprintf("%s at %g s", unit, step)
			alone := step >= 0.005 && (unit != "day" || step < 1) // an idling engine, and hours, are possible too
			oneWay(t, name, d, plain, alone)
			got := readDress(d.write(), Options{}, dressColumns...)
			if bare := unit != "iso" && unit != "hh:mm:ss"; bare && got.err == nil && !strings.Contains(got.said, "the log gives no unit; assumed: time ") {
				t.Errorf("%s: the unit is not said: %s", name, got.said)
			}
		}
	}
}

// TestTornRow: the last row of a log that was cut off anywhere. What stands in
// the field that was cut is no reading, for a row is complete where it has as
// many fields as the others; a delimiter too many in each row is said once.
func TestTornRow(t *testing.T) {
	for _, end := range []string{"", ","} {
		whole := "time (s),RPM,MAP\n"
		for i := range 5 {
			whole += fmt.Sprintf("%d,%d,%d%s\n", i, 1000+i, 40+i, end)
		}
		whole = strings.TrimSuffix(whole, "\n")
		for cut := len(whole) - 9 - len(end); cut <= len(whole); cut++ {
			text := whole[:cut]
			got := readDress(text, Options{}, "engine_speed", "manifold_pressure")
			if got.err != nil {
				t.Fatal(got.err)
			}
			if strings.HasSuffix(text, "\n") {
				continue
			}
			last := text[strings.LastIndexByte(text, '\n')+1:]
			fields := strings.Split(last, ",")
			complete := len(fields) == 3+len(end)
			kinds := ""
			for _, f := range got.faults {
				kinds += f.String()
			}
			if torn := strings.Contains(kinds, "torn: the log is cut off in its last row (line 6)"); torn == complete || len(kinds) > 0 && !torn {
				t.Errorf("%q: faults %s", last, kinds)
			}
			n := len(got.rows)
			if len(fields) > 1 && n != 5 || len(fields) == 1 && n != 4 {
				t.Errorf("%q: %d rows", last, n)
			}
			for k, v := range got.rows[n-1] {
				if n == 5 && k < len(fields)-1 && v != []float64{4, 1004, 44}[k] || n == 5 && !complete && k >= len(fields)-1 && v == []float64{0, 100, 4}[k] {
					t.Errorf("%q: value %d is %v", last, k, v)
				}
			}
			if habit := "a delimiter too many ends each row: it is passed over"; strings.Count(got.said, habit) != len(end) {
				t.Errorf("%q: said %s", last, got.said)
			}
		}
	}
	// A long log's last reading too: its value is no 8 where 800 was cut.
	long := "SECONDS;PID;VALUE;UNITS;\n10;Engine RPM;700;rpm;\n11;Engine RPM;800;rpm;"
	for cut := len(long) - 1; cut > len(long)-9; cut-- {
		got := readDress(long[:cut], Options{}, "engine_speed")
		if got.err != nil || len(got.faults) != 1 || got.faults[0].Kind != "torn" {
			t.Errorf("%q: %v %v", long[:cut], got.faults, got.err)
		}
		for _, row := range got.rows {
			if row[1] != 700 && row[1] != 800 {
				t.Errorf("%q: read %v", long[:cut], row)
			}
		}
	}
}

// TestTornReading: the value of a long log's last reading, which has no unit behind
// it, is no 8 where 800 was cut.
func TestTornReading(t *testing.T) {
	got := readDress("SECONDS;PID;VALUE;\n10;Engine RPM;700;\n11;Engine RPM;801;\n12;Engine RPM;8", Options{}, "engine_speed")
	if got.err != nil || len(got.rows) != 2 || len(got.faults) != 1 || got.faults[0].Kind != "torn" {
		t.Error(got.rows, got.faults, got.err)
	}
}

// TestQuoteInHeader: a quote that is never closed is counted, and refused where
// it would put numbers under other headings.
func TestQuoteInHeader(t *testing.T) {
	for _, c := range []struct{ head, want string }{
		{`time (s),"RPM,MAP`, "quote"},
		{`time (s),RPM,"MAP`, "quote"},
		{`time (s),"RPM","MAP"`, ""},
		{`time (s),RPM,"MAP,Baro`, "-:1: a quote of the header does not close, and the rows have 3 fields under its 4"},
	} {
		got := readDress(c.head+"\n0,800,40\n1,801,41\n2,803,42\n", Options{}, "engine_speed")
		kinds := ""
		for _, f := range got.faults {
			kinds += f.Kind
		}
		if got.err != nil {
			kinds = got.err.Error()
		}
		if kinds != c.want {
			t.Errorf("%s: %s, want %s", c.head, kinds, c.want)
		}
	}
}

// TestMoreNumbersThanHeadings: numbers with an unquoted comma fill more fields
// than there are headings.
func TestMoreNumbersThanHeadings(t *testing.T) {
	got := readDress("time (s),RPM,MAP,ECT,Battery\n0,800,40,80,13,5\n1,801,41,80,13,6\n", Options{}, "engine_speed")
	if got.err == nil || got.err.Error() != "-:2: the rows have 6 fields under 5 headings, so which number is whose cannot be told: --delimiter or --header-line" {
		t.Error(got.err)
	}
}

// TestPressuresInAnyDress: a manifold's absolute pressure, its gauge pressure and
// its vacuum, with a sign and without.
func TestPressuresInAnyDress(t *testing.T) {
	units := map[string]float64{"kPa": 1, "bar": 0.01, "psi": 0.1450377377302092, "inHg": 0.2953, "hPa": 10}
	for unit, scale := range units {
		for kind, kpa := range map[string]func(float64) float64{
			"absolute": func(v float64) float64 { return v },
			"gauge":    func(v float64) float64 { return v - 101.3 },
			"vacuum":   func(v float64) float64 { return 101.3 - v },
			"boosted":  func(v float64) float64 { return 1.9*v - 101.3 }, // over and under the barometer
		} {
			d := plainDress(0.1, 400)
			plain := d
			d.mapHead, d.kpa = "MAP ("+unit+")", func(v float64) float64 { return kpa(v) * scale }
			if kind == "absolute" {
				if unit == "inHg" {
					continue // its ratio above is rounded
				}
				oneWay(t, unit, d, plain, true)
				continue
			}
			if got := readDress(d.write(), Options{}, "manifold_pressure"); got.err == nil || !strings.Contains(got.err.Error(), "not an absolute one") {
				t.Errorf("a %s in %s is read: %v", kind, unit, got.err)
			}
		}
	}
	// A reading now and then that is none is no evidence, and a fault; the lowest
	// that is possible is one.
	lines := strings.Split(plainDress(0.1, 400).write(), "\n")
	for at, v := range map[int]string{5: "0", 9: "-2", 12: "0.001"} {
		f := strings.Split(lines[at], ",")
		f[2] = v
		lines[at] = strings.Join(f, ",")
	}
	text := strings.Join(lines, "\n")
	got := readDress(text, Options{MaxAge: seconds(0)}, "manifold_pressure")
	if got.err != nil || len(got.faults) != 1 || got.faults[0].String() !=
		"2 pressure: absolute pressures of zero or less, and no readings, the first 0 kPa in \"MAP (kPa)\" (line 6, 10)" {
		t.Error(got.faults, got.err)
	}
	for i, row := range got.rows {
		if none := i == 4 || i == 8; none != (row[1] != row[1]) || i == 11 && row[1] != 0.001 {
			t.Errorf("row %d is %v", i, row)
		}
	}
}

// TestTrimsInAnyDress: trims in percent, as a factor, as per cent near 100 and as
// a share near 0, under headings that give a unit and that do not.
func TestTrimsInAnyDress(t *testing.T) {
	for kind, trim := range map[string]func(float64) float64{
		"percent": func(v float64) float64 { return v },
		"factor":  func(v float64) float64 { return 1 + v/100 },
		"hundred": func(v float64) float64 { return 100 + v },
		"share":   func(v float64) float64 { return v / 100 },
	} {
		for _, head := range []string{"%s", "%s (%%)", "%s (ratio)", "%s (factor)"} {
			for _, size := range []float64{1, 0.04, 0} { // of 7.8 %
				d := plainDress(0.1, 400)
				plain := d
				plain.trim, plain.trimPlaces, plain.trimHead = func(v float64) float64 { return 1 + v*size/100 }, 9, "%s (factor)"
				d.trim, d.trimPlaces, d.trimHead = func(v float64) float64 { return trim(v * size) }, 6, head
				if kind == "percent" && head == "%s (%%)" {
					d.trimPlaces = 2
					d.trim = func(v float64) float64 { return math.Round(v*size*100) / 100 }
					plain.trim = func(v float64) float64 { return 1 + math.Round(v*size*100)/1e4 }
				}
				right := map[string]string{"percent": "%s (%%)", "factor": "%s (factor)", "hundred": "%s (%%)", "share": "%s (ratio)"}[kind] == head
				name := kind + " under " + fmt.Sprintf(head, "STFT") + fmt.Sprintf(" of %g", 7.8*size)
				if size == 0 && !right || kind == "percent" && (head == "%s (ratio)" || head == "%s (factor)") {
					continue // a constant alone proves nothing: 1 may be 1 %; and no heading that gives a ratio holds percent
				}
				oneWay(t, name, d, plain, right && size == 1)
			}
		}
	}
	// What is asked for settles it.
	d := plainDress(0.1, 400)
	plain := readDress(d.write(), Options{}, "short_trim_1")
	d.trim, d.trimPlaces, d.trimHead = func(v float64) float64 { return v / 100 }, 6, "%s"
	got := readDress(d.write(), Options{}, "short_trim_1")
	if want := `"STFT B1" from −0.078 to 0.078 may be percent or a share of 1: --channel-unit short_trim_1=% or share`; got.err == nil || !strings.HasSuffix(got.err.Error(), want) {
		t.Error(got.err)
	}
	got = readDress(d.write(), Options{Units: map[string]string{"short_trim_1": "share", "long_trim_1": "share"}}, "short_trim_1")
	if diff := got.differs(&plain, 1e-9); got.err != nil || diff != "" {
		t.Error(got.err, diff)
	}
	got = readDress(d.write(), Options{Units: map[string]string{"short_trim_1": "%", "long_trim_1": "%"}}, "short_trim_1")
	if got.err != nil || got.rows[0][1] > 0.08 {
		t.Error(got.err)
	}
}

// TestSecondHeader: two logs joined end to end. The second's header in another
// order, or in other units, is refused at its line; in the same, the rows are
// read and the header is counted.
func TestSecondHeader(t *testing.T) {
	rows := "0,800,40\n1,801,41\n2,802,42\n"
	rest := strings.Repeat("3,803,43,x\n", 2)
	for _, c := range []struct{ first, second, want string }{
		{"time (s),RPM,MAP (kPa)\n", "time (s),RPM,MAP (kPa)\n", "clock-back header"},
		{"time (s),RPM,MAP (kPa)\n", "TIME (s),rpm,Map (kPa)\n", "clock-back clock-missing text"},
		{"time (s),RPM,MAP (kPa)\n", "time (s),MAP (kPa),RPM\n", "refused at 5"},
		{"time (s),RPM,MAP (kPa)\n", "MAP (kPa),time (s),RPM\n", "refused at 5"},
		{"time (s),RPM,MAP (kPa)\n", "time (ms),RPM,MAP (kPa)\n", "refused at 5"},
		{"time (s),RPM,MAP (kPa)\n", "time (s),RPM,MAP (psi)\n", "refused at 5"},
		{"time (s),RPM,MAP (kPa)\n", "\"time (s)\",\"MAP (kPa)\",\"RPM\"\n", "refused at 5"},
		{"time (s),RPM,MAP (kPa)\n", "Logger of the van\n\ntime (s),MAP (kPa),RPM\n", "refused at 7"},
		{"time (s),RPM,MAP (kPa)\n", "time (s),RPM,MAP (kPa),Baro\n" + rest, "refused at 5"},
		{"time,RPM,MAP\ns,rpm,kPa\n", "time,RPM,MAP\ns,rpm,kPa\n", "clock-back clock-missing text header"},
		{"time,RPM,MAP\ns,rpm,kPa\n", "time,RPM,MAP\ns,rpm,psi\n", "refused at 7"},
		{"time (s),RPM,MAP\n", "time (s),RPM,MAP\ns,rpm,psi\n", "refused at 6"},
		{"time (s),RPM,MAP (kPa)\n", "lost,-,-\n", "clock-back clock-missing"},
		{"time (s),RPM,MAP (kPa)\n", "RPM,801,41\n", "clock-back clock-missing"},
		{"time (s),PID,VALUE,UNITS\n0,RPM,800,rpm\n0,MAP,40,kPa\n", "time (s),VALUE,PID,UNITS\n0,1,RPM,rpm\n", "refused at 4"},
	} {
		more := rows
		if strings.Contains(c.first, "VALUE") {
			more = ""
		}
		for _, quoted := range []string{"", "9,\"900\",49\n"} { // as RFC 4180 has it, and the fast way
			text := c.first + strings.TrimPrefix(more+c.second+more+strings.Repeat(strings.Replace(more, "0,", "3,", 1), 4), "") + quoted
			got := readDress(text, Options{}, "engine_speed")
			kinds := ""
			for _, f := range got.faults {
				kinds += " " + f.Kind
			}
			if got.err != nil {
				kinds = " " + strings.ReplaceAll(strings.TrimSuffix(got.err.Error(), ": "+channel.OtherHeader), "-:", "refused at ")
			}
			if kinds = strings.TrimSpace(strings.NewReplacer("clock-repeat", "", " gap", "").Replace(kinds)); kinds != c.want {
				t.Errorf("%q under %q: %s, want %s", c.second, c.first, kinds, c.want)
			}
		}
	}
}

// TestOverlaps: logs of one command of which some rows are the same.
func TestOverlaps(t *testing.T) {
	d := plainDress(0.1, 600)
	german := d
	german.decimal, german.group, german.delim, german.clockHead = ",", ".", ";", "time (ms)"
	german.clock = func(t float64) string { return fmt.Sprintf("%.0f", t*1000) }
	zoned := d
	zoned.clock, zoned.clockHead = isoClock, "time"
	rows := func(d dress, from, to int) string {
		lines := strings.SplitAfter(d.write(), "\n")
		return lines[0] + strings.Join(lines[1+from:1+to], "")
	}
	standing := "time (s),RPM,MAP,Throttle,Vehicle speed,Battery,STFT B1,LTFT B1\n" // an engine that is not started yet
	for i := range 40 {
		standing += fmt.Sprintf("%d,0,101,0,0,12.1,0,0\n", i)
	}
	long := d
	long.rows = 30000
	thin := "" // every eighth row of it
	for i, line := range slices.Collect(strings.Lines(rows(long, 0, 8000))) {
		if i == 0 || i%8 == 1 {
			thin += line
		}
	}
	richer := d
	richer.trim = func(v float64) float64 { return v - 0.4 }
	for _, c := range []struct{ why, a, b, want string }{
		{"one behind the other", rows(d, 0, 300), rows(d, 300, 600), ""},
		{"some rows in both", rows(d, 0, 300), rows(d, 250, 600), "a.csv and b.csv overlap: some 50 rows from 125 to 129.9 s stand in both and count twice: cut one of them"},
		{"one within the other", rows(d, 0, 600), rows(d, 100, 200), "a.csv and b.csv overlap: some 100 rows from 110 to 119.9 s stand in both and count twice: cut one of them"},
		{"in another dress", rows(d, 0, 300), rows(german, 250, 600), "a.csv and b.csv overlap: some 50 rows from 125 to 129.9 s stand in both and count twice: cut one of them"},
		{"another drive at the same seconds", rows(d, 0, 300), rows(richer, 0, 300), ""},
		{"another drive that begins as the first one", standing + "40,900,40,5,0,13,1,1\n", standing + "40,950,41,5,0,13,1,1\n", ""},
		{"with the date, other readings", rows(zoned, 0, 300), strings.ReplaceAll(rows(zoned, 200, 400), ",62.0,", ",61.0,"), "a.csv and b.csv overlap: "},
		{"with the date, one behind the other", rows(zoned, 0, 300), rows(zoned, 300, 400), ""},
		{"of many rows", rows(long, 0, 20000), rows(long, 19000, 30000), "a.csv and b.csv overlap: some "},
		{"of many rows, and every eighth of them", rows(long, 0, 30000), thin, "a.csv and b.csv overlap: some "},
		{"of many rows, one behind the other", rows(long, 0, 15000), rows(long, 15000, 30000), ""},
	} {
		o := &Overlaps{}
		for name, text := range map[string]string{"a.csv": c.a, "b.csv": c.b} {
			path := filepath.Join(t.TempDir(), name)
			if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			l, err := Open(path, nil, Options{Overlaps: o})
			if err != nil {
				t.Fatal(err)
			}
			if _, err := l.Scan(context.Background(), Query{Columns: dressColumns}, func(*Frame) error { return nil }); err != nil {
				t.Fatal(c.why, err)
			}
			l.Close()
		}
		if got := strings.Join(o.Told(), "\n"); (c.want == "") != (got == "") || !strings.HasPrefix(got, c.want) {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// TestTwoWays: a channel that can be read in two ways is refused.
func TestTwoWays(t *testing.T) {
	got := readDress("time (s);Air charge;x\n0;998;1\n1;1.004;2\n", Options{}, "air_charge")
	if want := `-:1: column "Air charge": "1.004" may be 1.004 or 1004: --decimal . or ,`; got.err == nil || got.err.Error() != want {
		t.Error(got.err)
	}
}
