package page

import (
	"bytes"
	"image/png"
	"math"
	"os"
	"strings"
	"testing"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/envelope"
)

// wave is a trace with one spike, of a single sample in a hundred thousand.
func wave() []view.Chart {
	e := envelope.New(2, 500)
	for i := range 100000 {
		t := float64(i) / 25
		v := math.Sin(t/60) * 10
		if i == 77777 {
			v = 99
		}
		e.Add(t, []float64{v, math.Floor(t / 500)})
	}
	t := &view.Trace{Log: "a drive", Channels: []view.TraceChannel{{Name: "knock <retard>", Unit: "deg"}, {Name: "gear"}}, Envelope: e}
	return t.Charts()
}

// TestTraceHidesNoSpike: a single sample shows in every form.
func TestTraceHidesNoSpike(t *testing.T) {
	tr := wave()
	var b bytes.Buffer
	if err := Write(&b, tr[0].Trace.View()); err != nil {
		t.Fatal(err)
	}
	if page := b.String(); !strings.Contains(page, ",99,") || !strings.Contains(page, "svg.dataset.trace") || strings.Contains(page, "<retard>") {
		t.Error("the page's values lack the spike, or its script, or it holds a name as markup")
	}
	b.Reset()
	if err := WriteSVG(&b, tr); err != nil {
		t.Fatal(err)
	}
	// The spike stands at the top of the first panel: 26 units down.
	if svg := b.String(); !strings.Contains(svg, " 26.0L") || strings.Contains(svg, "<retard>") {
		t.Error("the picture lacks the spike, or holds a name as markup")
	}
	b.Reset()
	if err := WritePNG(&b, tr); err != nil {
		t.Fatal(err)
	}
	if path := os.Getenv("CALSPLICE_TRACE"); path != "" {
		os.WriteFile(path, b.Bytes(), 0o644)
	}
	img, err := png.Decode(&b)
	if err != nil || img.Bounds().Dx() < 900 {
		t.Fatalf("the PNG does not read back: %v", err)
	}
	dark := 0 // pixels of the band just below the top of the first panel
	for x := range img.Bounds().Dx() {
		if r, _, blue, _ := img.At(x, 42+titleHeight*3/2).RGBA(); r < 0x8000 && blue > r {
			dark++
		}
	}
	if dark == 0 || dark > 20 {
		t.Errorf("the spike has %d pixels at its top", dark)
	}
}
