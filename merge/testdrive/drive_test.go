package testdrive

import (
	"bytes"
	"math"
	"testing"

	"calsplice/tables"
)

// settled is the mean trim in per cent over closed-loop rows late in a drive,
// without purge, where keep says so.
func settled(l *Log, bank string, keep func(row int) bool) float64 {
	short, long := l.Column("short_trim_"+bank), l.Column("long_trim_"+bank)
	status, purge, time := l.Column("fuel_status"), l.Column("purge"), l.Column("time")
	sum, n := 0.0, 0.0
	for i := range short {
		if status[i] != 2 || purge[i] > 0 || time[i] < 240 || keep != nil && !keep(i) {
			continue
		}
		sum += ((1+short[i]/100)*(1+long[i]/100) - 1) * 100
		n++
	}
	return sum / n
}

// TestTrimsAnswerEachFault: what a fault does to the trims is known from its
// physics, so the model must show it.
func TestTrimsAnswerEachFault(t *testing.T) {
	four, six, turbo := Four(), Six(), Turbo()
	opt := DriveOptions{Seed: 3, Minutes: 12, Purge: true}
	idle := func(l *Log) float64 {
		speed := l.Column("engine_speed")
		return settled(l, "1", func(i int) bool { return speed[i] < 900 })
	}
	loaded := func(l *Log) float64 {
		pressure := l.Column("manifold_pressure")
		return settled(l, "1", func(i int) bool { return pressure[i] > 50 })
	}
	for _, row := range []struct {
		name        string
		cal         *tables.Calibration
		plant       Plant
		idle, least float64 // trim at idle; and the size of the difference to load
	}{
		{"healthy", four, Plant{Truth: four}, 0, 0},
		{"flow table 7 % high", Scaled(four, "injector.flow", 1.07, 0), Plant{Truth: four}, 7, 0},
		{"offset 0.1 ms short", four, Plant{Truth: four, Fault: Fault{Offset: 0.1}}, 3.6, 1.5},
		{"leak", four, Plant{Truth: four, Fault: Fault{Leak: 0.4}}, 13, 8},
		{"hose off", six, Plant{Truth: six, Banks: 2, Fault: Fault{HoseOff: true}}, -7.5, 2},
		{"supply limit", four, Plant{Truth: four, Fault: Fault{SupplyLimit: 1.2}}, 0, 1},
		{"boosted and healthy", turbo, Plant{Truth: turbo, Boost: 70}, 0, 0},
	} {
		l := Drive(row.cal, row.plant, opt)
		at, under := idle(l), loaded(l)
		t.Logf("%-22s idle %+6.2f %%, load %+6.2f %%", row.name, at, under)
		if math.Abs(at-row.idle) > 1.2 {
			t.Errorf("%s: trim at idle is %.2f %%, want about %.2f", row.name, at, row.idle)
		}
		if d := math.Abs(at - under); d < row.least || row.least == 0 && d > 1.2 {
			t.Errorf("%s: trim at idle and under load differ by %.2f, want at least %v", row.name, d, row.least)
		}
	}
}

func TestBanksDiffer(t *testing.T) {
	six := Six()
	l := Drive(six, Plant{Truth: six, Banks: 2, Fault: Fault{Bank2: 0.08}}, DriveOptions{Seed: 1, Minutes: 12})
	one, two := settled(l, "1", nil), settled(l, "2", nil)
	if math.Abs(one) > 0.8 || math.Abs(two-8.7) > 0.8 {
		t.Errorf("trims are %.2f and %.2f %%, want about 0 and 8.7", one, two)
	}
}

// TestDriveCovers keeps the drive worth its name: a proposal needs all of it.
func TestDriveCovers(t *testing.T) {
	four := Four()
	l := Drive(four, Plant{Truth: four, Fault: Fault{OldFuel: 9}}, DriveOptions{Seed: 5, Minutes: 30, Purge: true})
	seen := map[string]bool{}
	low, high, knock := math.Inf(1), 0.0, 0.0
	for i := range l.Rows() {
		status, pulse, volts := l.Column("fuel_status")[i], l.Column("pulse_width")[i], l.Column("battery")[i]
		seen["closed loop"] = seen["closed loop"] || status == 2
		seen["fuel cut"] = seen["fuel cut"] || pulse == 0
		seen["enrichment"] = seen["enrichment"] || l.Column("lambda_commanded")[i] < 0.9
		seen["purge"] = seen["purge"] || l.Column("purge")[i] > 0
		seen["idle"] = seen["idle"] || l.Column("speed")[i] == 0
		seen["top gear"] = seen["top gear"] || l.Column("gear")[i] == 5
		low, high = min(low, volts), max(high, volts)
		knock = max(knock, l.Column("knock_retard")[i])
	}
	for _, what := range []string{"closed loop", "fuel cut", "enrichment", "purge", "idle", "top gear"} {
		if !seen[what] {
			t.Errorf("half an hour without %s", what)
		}
	}
	if high-low < 1.5 {
		t.Errorf("battery spread is %.2f V, want over 1.5", high-low)
	}
	if knock < 3 {
		t.Errorf("old fuel knocks at most %.1f deg, want over 3", knock)
	}
}

func TestSameSeedSameBytes(t *testing.T) {
	text := func(seed uint64) []byte {
		four := Four()
		var b bytes.Buffer
		if err := Drive(four, Plant{Truth: four}, DriveOptions{Seed: seed, Minutes: 2}).WriteCSV(&b); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	if !bytes.Equal(text(7), text(7)) {
		t.Error("two drives of one seed differ")
	}
	if bytes.Equal(text(7), text(8)) {
		t.Error("two seeds give one drive")
	}
}
