package shade

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"testing"
)

// TestPublished holds the scales against the anchors of
// testdata/colour/scales.json, which were taken from the publications
// themselves, with the lightness and the label colour computed there.
func TestPublished(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/colour/scales.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Scales map[string]struct {
			Hex, Text []string
			Lstar     []float64
			Step      map[string]float64 `json:"min_step_dE76"`
			Mirror    map[string]float64 `json:"min_mirror_dE76"`
		}
	}
	if err := json.Unmarshal(raw, &ref); err != nil {
		t.Fatal(err)
	}
	for _, s := range []*Scale{Sequential, Diverging} {
		anchors := ref.Scales[s.Name]
		if len(anchors.Hex) < 9 {
			t.Fatalf("%s: the reference has %d anchors", s.Name, len(anchors.Hex))
		}
		for i, want := range anchors.Hex {
			// Anchors are entries of the 256 at equal spacing, rounded.
			share := math.RoundToEven(float64(i)/float64(len(anchors.Hex)-1)*255) / 255
			got := s.At(share)
			if got.String() != want {
				t.Errorf("%s at %v is %v, want %s", s.Name, share, got, want)
			}
			if text := got.Text().String(); text != anchors.Text[i] {
				t.Errorf("%s at %v: text is %s, want %s", s.Name, share, text, anchors.Text[i])
			}
			if l := lightness(got); math.Abs(l-anchors.Lstar[i]) > 0.06 {
				t.Errorf("%s at %v: lightness %.2f, want %v", s.Name, share, l, anchors.Lstar[i])
			}
		}
		// In each kind of sight a step of the scale, and for a sign the same size
		// on the other side, is a difference that can be seen.
		for _, sight := range []string{"normal", "protan", "deutan", "tritan"} {
			if anchors.Step[sight] < 8 || s == Diverging && anchors.Mirror[sight] < 25 {
				t.Errorf("%s: %s sight tells steps by %v, signs by %v", s.Name, sight, anchors.Step[sight], anchors.Mirror[sight])
			}
		}
		ours := []byte(*s.csv)
		theirs, err := os.ReadFile("../../testdata/colour/" + s.Name + ".csv")
		if err != nil || !bytes.Equal(ours, theirs) {
			t.Errorf("%s.csv is not the file of testdata/colour (%v)", s.Name, err)
		}
	}
}

// lightness is the L* of CIE 1976.
func lightness(c RGB) float64 { return 116*math.Cbrt(max(luminance(c), 0.0089)) - 16 }

func TestReadableAndSteady(t *testing.T) {
	var before float64
	for i := range 1001 {
		at := float64(i) / 1000
		for _, s := range []*Scale{Sequential, Diverging} {
			if c := s.At(at); Contrast(c, c.Text()) < 4.5 {
				t.Errorf("%s at %v: text has a contrast of %.2f", s.Name, at, Contrast(c, c.Text()))
			}
		}
		if l := lightness(Sequential.At(at)); l < before-0.3 {
			t.Errorf("the sequential scale darkens at %v", at)
		} else {
			before = l
		}
		for _, c := range []RGB{LightSize(at), LightSign(2*at - 1)} {
			if Contrast(c, Black) < 4.5 {
				t.Errorf("black text on %v (%v) has a contrast of %.2f", c, at, Contrast(c, Black))
			}
		}
	}
}

func TestShades(t *testing.T) {
	for _, c := range []struct {
		got, want RGB
		why       string
	}{
		{Size(0, 0, 10), Sequential.At(0), "the smallest"},
		{Size(10, 0, 10), Sequential.At(1), "the largest"},
		{Size(99, 0, 10), Sequential.At(1), "past the end is the end"},
		{Size(7, 7, 7), Sequential.At(0.5), "all alike"},
		{Size(0, -math.MaxFloat64, math.MaxFloat64), Sequential.At(0.5), "a span past the largest double"},
		{Size(math.NaN(), 0, 1), Sequential.At(0), "an empty cell has some colour"},
		{Sign(0, 5), Diverging.At(0.5), "zero is the middle"},
		{Sign(math.Copysign(0, -1), 5), Diverging.At(0.5), "so is negative zero"},
		{Sign(-5, 5), Diverging.At(0), "the most negative"},
		{Sign(5, 5), Diverging.At(1), "the most positive"},
		{Sign(3, 0), Diverging.At(0.5), "no difference anywhere"},
		{LightSign(-1), Diverging.At(0.28), "the most negative on which black text reads"},
		{LightSign(0), Diverging.At(0.5), "zero on which black text reads"},
		{LightSign(1), Diverging.At(0.72), "the most positive on which black text reads"},
		{LightSize(0), Sequential.At(0.5), "the smallest on which black text reads"},
		{LightSize(1), Sequential.At(1), "the largest on which black text reads"},
	} {
		if c.got != c.want {
			t.Errorf("%s: got %v, want %v", c.why, c.got, c.want)
		}
	}
	if low, high := Sign(-5, 5), Sign(5, 5); low.B <= low.R || high.R <= high.B {
		t.Errorf("the most negative is %v, want a blue, and the most positive %v, want a brown", low, high)
	}
	if low, high := Size(0, 0, 1), Size(1, 0, 1); luminance(low) >= luminance(high) {
		t.Errorf("the smallest is %v, want it darker than the largest, %v", low, high)
	}
	if Sign(-2, 5) == Sign(2, 5) {
		t.Error("a negative and a positive difference have one colour")
	}
}

func TestANSI(t *testing.T) {
	for _, c := range []struct {
		c        RGB
		of256    int
		whyOf256 string
	}{
		{RGB{0, 0, 0}, 16, "the cube's own black"},
		{RGB{255, 255, 255}, 231, "the cube's own white"},
		{RGB{255, 0, 0}, 196, "the cube's own red"},
		{RGB{128, 128, 128}, 244, "a grey of the ramp"},
		{RGB{95, 135, 175}, 67, "a colour of the cube"},
	} {
		if got, shown := c.c.ANSI256(); got != c.of256 || c.of256 != 244 && shown != c.c {
			t.Errorf("%v is colour %d of 256, want %d: %s", c.c, got, c.of256, c.whyOf256)
		}
	}
	seen := map[int]bool{}
	for i := range 11 {
		n, _ := Sequential.At(float64(i) / 10).ANSI256()
		seen[n] = true
	}
	if len(seen) < 9 {
		t.Errorf("eleven steps of size are %d colours of 256", len(seen))
	}
}
