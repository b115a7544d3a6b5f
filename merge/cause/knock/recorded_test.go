package knock

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"calsplice/interp/cells"
	"calsplice/tables"
)

var update = flag.Bool("update", false, "write what is found into testdata")

// leg is a part of a made-up road: where the engine goes, and what it needs there.
type leg struct {
	seconds                         float64
	speed, load, throttle           [2]float64 // at its begin and its end
	gear, status, commanded, lambda float64
	trim, intake, coolant           float64
	need                            float64 // degrees off the table
	every                           float64 // s between what is heard and is no knock; 0 for never
	cut                             bool
}

// cruise is a leg at one place, in closed loop.
func cruise(seconds, speed, load float64) leg {
	return leg{seconds: seconds, speed: [2]float64{speed, speed}, load: [2]float64{load, load}, throttle: [2]float64{load / 2, load / 2},
		gear: 3, status: 2, commanded: 1, lambda: 1, intake: 25, coolant: 90}
}

// full is a leg under full load, in open loop.
func full(seconds, speed, need float64) leg {
	l := cruise(seconds, speed, 95)
	l.throttle, l.status, l.commanded, l.lambda, l.need = [2]float64{80, 80}, 4, 0.88, 0.88, need
	return l
}

// car drives legs: its controller pulls 1 deg, twice a second at most, while less is
// off the table than is needed, and gives 0.4 deg back each second.
type car struct {
	cal   *tables.Calibration
	blend float64  // what it learned, %
	other float64  // degrees by which another table drove
	drops []string // headings that it does not log
}

func (c *car) log(legs ...leg) []byte {
	var b bytes.Buffer
	spark, low := c.cal.Tables()[0], c.cal.Table("spark.fallback")
	header := "Time [s],Engine speed [r/min],Load [%],Throttle [%],Manifold pressure [kPa],Air flow [g/s],Intake air temperature [degC],Coolant temperature [degC]," +
		"Commanded lambda,Lambda,Fuel status,Short term fuel trim bank 1 [%],Injector pulse width [ms],Gear,Spark advance [deg],Knock retard [deg],Spark blend [%]\n"
	for i, name := range strings.Split(strings.TrimSpace(header), ",") {
		if slices.Contains(c.drops, name) {
			name = fmt.Sprintf("Unused %d", i)
		}
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteString(name)
	}
	b.WriteByte('\n')
	read := func(t *tables.Table, speed, load float64) float64 {
		x, y := (speed-1000)/500, (load-20)/20
		i, j := min(5, math.Floor(x)), min(3, math.Floor(y))
		at := func(r, k float64) float64 { return t.At(int(r), int(k)) }
		return (1-y+j)*((1-x+i)*at(j, i)+(x-i)*at(j, i+1)) + (y-j)*((1-x+i)*at(j+1, i)+(x-i)*at(j+1, i+1))
	}
	time, retard, last, mistake := 0.0, 0.0, -9.0, 0.0
	for _, l := range legs {
		n := int(10 * l.seconds)
		mistake = time + 1 - l.every // none in the first second
		for k := range n {
			along := func(v [2]float64) float64 { return v[0] + (v[1]-v[0])*float64(k)/float64(n) }
			speed, load, throttle := along(l.speed), along(l.load), along(l.throttle)
			table := read(spark, speed, load)
			deficit := 0.0
			if low != nil {
				deficit = c.blend / 100 * (table - read(low, speed, load))
			}
			if retard = max(0, retard-0.04); retard+deficit < l.need-0.2 && time >= last+0.5 {
				retard, last = retard+1, time
			}
			if l.every > 0 && time >= mistake+l.every {
				retard, mistake = min(retard+1.2, 4), time
			}
			pulse := 2 + load/20
			if l.cut {
				pulse = 0
			}
			fmt.Fprintf(&b, "%.1f,%.0f,%.1f,%.1f,%.1f,%.2f,%.0f,%.0f,%.2f,%.3f,%.0f,%.1f,%.2f,%.0f,%.1f,%.2f,%.0f\n", time, speed, load, throttle, load+4, speed*load/6000,
				l.intake, l.coolant, l.commanded, l.lambda, l.status, l.trim, pulse, l.gear, table-deficit-retard-c.other, retard, c.blend)
			time += 0.1
		}
	}
	return b.Bytes()
}

// stepped is the van with a region raised by a hand, and a fallback table.
func stepped(t testing.TB) *tables.Calibration {
	t.Helper()
	cal := van(t)
	table := cal.Tables()[0]
	values, low := append([]float64(nil), table.Values()...), make([]float64, len(table.Values()))
	for row := 3; row < 5; row++ {
		for column := 2; column < 5; column++ {
			values[row*7+column] += 5
		}
	}
	for i := range values {
		low[i] = values[i] - 6
	}
	raised, err := table.WithValues(values)
	if err != nil {
		t.Fatal(err)
	}
	fallback, err := tables.NewTable(tables.Fields{ID: "spark.fallback", Role: tables.SparkFallback, Unit: "deg", Resolution: 0.25, X: table.X(), Y: table.Y(), Values: low})
	if err != nil {
		t.Fatal(err)
	}
	cal, err = tables.NewCalibration(tables.Contents{Name: "Stepped", Tables: []*tables.Table{raised, fallback}})
	if err != nil {
		t.Fatal(err)
	}
	return cal
}

// tours repeats a road over speeds at light, middle and full load.
func tours(rounds int, change func(l *leg, round int)) (list []leg) {
	for round := range rounds {
		for speed := 1250.0; speed <= 3750; speed += 500 {
			for _, l := range []leg{cruise(5, speed, 30), cruise(4, speed, 60), full(6, speed, 0)} {
				change(&l, round)
				list = append(list, l)
			}
			lift := cruise(3, speed, 40)
			lift.load, lift.throttle = [2]float64{95, 25}, [2]float64{80, 5}
			change(&lift, round)
			list = append(list, lift)
		}
	}
	return list
}

// roads are made-up drives, each with what it is there for.
func roads(t testing.TB) []struct {
	name string
	cal  *tables.Calibration
	logs [][]byte
} {
	plain, raised := car{cal: van(t)}, car{cal: stepped(t)}
	loaded := func(l *leg, need float64) {
		if l.load[0] > 50 {
			l.need = need * (l.load[0] - 40) / 55
		}
	}
	octane := func(need float64) func(l *leg, _ int) {
		return func(l *leg, _ int) { loaded(l, need+(2500-l.speed[0])/1500) }
	}
	region := func(l *leg, _ int) {
		if l.speed[0] > 1700 && l.speed[0] < 3000 && l.load[0] > 75 {
			l.need = 4
		}
	}
	heat := func(l *leg, round int) {
		if l.intake = 20; round%2 == 1 {
			l.intake, l.coolant = 60, 100
			loaded(l, 3.5)
		}
	}
	lean := func(l *leg, _ int) {
		if l.status == 4 {
			l.lambda, l.need = l.commanded*1.15, 2.5
			return
		}
		l.trim = l.speed[0] * l.load[0] / 20000
	}
	lifts := func(l *leg, _ int) {
		if l.load[0] != l.load[1] {
			l.every = 0.7
		}
	}
	band := func(l *leg, _ int) {
		if l.speed[0] == 2250 {
			l.every = 1.5
		}
	}
	big := func(l *leg, round int) {
		if round == 0 && l.speed[0] == 1750 && l.status == 4 {
			l.need = 7
		}
		l.cut = l.load[0] == 30
	}
	held, other := raised, plain
	held.blend = 30
	other.other = 4
	bare := car{cal: van(t), drops: []string{"Throttle [%]", "Intake air temperature [degC]", "Fuel status", "Lambda", "Short term fuel trim bank 1 [%]", "Spark advance [deg]", "Gear"}}
	narrow := car{cal: van(t), drops: []string{"Spark blend [%]", "Gear"}}
	blind := car{cal: van(t), drops: []string{"Lambda"}}
	many := func(c car, change func(l *leg, round int)) [][]byte { return [][]byte{c.log(tours(4, change)...)} }
	return []struct {
		name string
		cal  *tables.Calibration
		logs [][]byte
	}{
		{"quiet", plain.cal, many(plain, func(*leg, int) {})},
		{"low octane", plain.cal, many(plain, octane(5))},
		{"low octane, little logged", bare.cal, many(bare, octane(5))},
		{"low octane, mixture not logged", blind.cal, many(blind, octane(3))},
		{"a raised region", raised.cal, many(raised, region)},
		{"a raised region and a learned blend", held.cal, many(held, region)},
		{"hot charge", plain.cal, many(plain, heat)},
		{"lean at load by lambda", plain.cal, many(plain, lean)},
		{"lean at load by closed loop", blind.cal, many(blind, lean)},
		{"about lifts", plain.cal, many(plain, lifts)},
		{"in a band of speed", narrow.cal, many(narrow, band)},
		{"another table drove", other.cal, many(other, octane(5))},
		{"single events of 7 deg, and fuel cuts", plain.cal, many(plain, big)},
		{"two fuels", plain.cal, [][]byte{plain.log(tours(3, octane(5))...), plain.log(tours(3, func(*leg, int) {})...)}},
	}
}

// TestRecorded holds what made-up drives show, and what is made of it, to a file that
// was read.
func TestRecorded(t *testing.T) {
	var b strings.Builder
	for _, road := range roads(t) {
		var logs []cells.Log
		for i, l := range road.logs {
			logs = append(logs, logOf(fmt.Sprintf("drive%d.csv", i+1), road.cal, l))
		}
		d, err := Read(context.Background(), road.cal, road.cal.Tables()[0], logs)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&b, "== %s\n", road.name)
		record(&b, d)
	}
	name := filepath.Join("testdata", "recorded.txt")
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	got, expected := strings.Split(b.String(), "\n"), strings.Split(string(want), "\n")
	for i := range got {
		if i >= len(expected) || got[i] != expected[i] {
			t.Fatalf("line %d: %s; go test ./merge/cause/knock -update, and read the difference", i+1, got[i])
		}
	}
}

// record writes a drive's result, what it shows, and some of its stays.
func record(b *strings.Builder, d *Drive) {
	r, g := d.Explain(), d.signs()
	fmt.Fprintf(b, "%s; next: %q; certain %v, repair %v; %d events, %d after lifts, peak %.2f\n", r.Verdict, r.Next(), r.Certain, r.Repair(), r.Events, r.Lifts, r.Peak)
	for _, list := range [][]string{r.Inspect, r.Notes} {
		for _, s := range list {
			fmt.Fprintln(b, s)
		}
	}
	if r.Torque != nil {
		fmt.Fprintf(b, "torque %.2f deg, worst %.2f, %.2f %% at the mean, %.2f %% at the worst\n", r.Torque.Retard, r.Torque.Worst, r.Torque.Lost, r.Torque.Most)
	}
	for _, f := range r.Causes {
		fmt.Fprintf(b, "%s %.3f %q %q\n", f.Cause, f.Share, f.Evidence, f.Alike)
	}
	fmt.Fprintf(b, "rises %v stays %d free %d light %d places %d rates %.2f %.2f shown %.2f lean %.2f %.2f heat %.2f %.2f %.1f\n", g.rises, g.stays, g.free, g.lightStays, g.places,
		g.loadRate, g.lightRate, g.shown, g.lean, g.leanShare, g.heat, g.follows, g.spread)
	fmt.Fprintf(b, "near %.1f off %.1f band %.0f\n", []listening{g.nearLight, g.nearLoad}, []listening{g.early, g.late}, g.band)
	for _, e := range realCauses {
		c := e.cause
		if m := g.fits[c]; m != nil {
			fmt.Fprintf(b, "fit %s %.2f loss %.2f of %.2f\n", c, m.value, m.loss, g.pull)
		}
	}
	if g.region.found() {
		fmt.Fprintf(b, "region %v share %.3f height %.2f\n", g.region.rect, g.region.share, g.region.height)
	}
	confirmed := []int{}
	for c := range d.Table.Values() {
		if d.Confirmed(c) {
			confirmed = append(confirmed, c)
		}
	}
	fmt.Fprintf(b, "certainly knocked %v, other %.2f\n", confirmed, d.Other)
	for i := 0; i < len(d.Stays); i += 1 + len(d.Stays)/10 {
		s := &d.Stays[i]
		fmt.Fprintf(b, "%d %d %.1f %.1f s %.0f r/min %.2f load %.1f flow, off %v held %v heard %v need %.2f quiet %.2f, mean %.2f peak %.2f deficit %.2f table %.2f, %.0f %.0f degC rich %.3f lean %.3f\n",
			s.Log, s.Bin, s.Start, s.Seconds, s.Speed, s.Share, s.Flow, s.Off, s.Held, s.Heard, s.Need, s.Quiet, s.Mean, s.Peak, s.Deficit, s.Table, s.Intake, s.Coolant, s.Rich, s.LeanBy())
	}
}
