package page

import (
	"image/color"
	"io"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"calsplice/tables"
)

var (
	bandColour  = color.NRGBA{0x0f, 0x5a, 0x7a, 0xff}
	eventColour = color.NRGBA{0x8a, 0x4b, 0x00, 0x38}
)

// WritePNG writes the trace as a picture, the channels one above the other.
func (tr *Trace) WritePNG(w io.Writer) error {
	width, height := vg.Length(960), vg.Length(130*len(tr.Channels)+20)
	img := vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(96))
	canvas := draw.New(img)
	rows := make([][]*plot.Plot, len(tr.Channels))
	for i := range tr.Channels {
		p, err := tr.plot(i)
		if err != nil {
			return err
		}
		if i == len(tr.Channels)-1 {
			p.X.Label.Text = "time [s]"
		}
		rows[i] = []*plot.Plot{p}
	}
	tiles := draw.Tiles{Rows: len(rows), Cols: 1, PadX: 4, PadY: 6, PadTop: 6, PadBottom: 6, PadLeft: 6, PadRight: 12}
	for i, row := range plot.Align(rows, tiles, canvas) {
		rows[i][0].Draw(row[0])
	}
	_, err := vgimg.PngCanvas{Canvas: img}.WriteTo(w)
	return err
}

func (tr *Trace) plot(i int) (*plot.Plot, error) {
	c, e := tr.Channels[i], tr.Envelope
	p := plot.New()
	p.Title.Text = tables.Clean(c.Name)
	if c.Unit != "" {
		p.Title.Text += " [" + tables.Clean(c.Unit) + "]"
	}
	p.X.Min, p.X.Max = e.Start(), e.Start()+float64(float64(e.Len())*e.Width())
	least, largest := e.Series(i)
	low, high := span(least, largest)
	p.Y.Min, p.Y.Max = low, high
	for _, s := range tr.Events {
		if err := addPolygon(p, plotter.XYs{{X: s.Start, Y: low}, {X: s.End + e.Width(), Y: low}, {X: s.End + e.Width(), Y: high}, {X: s.Start, Y: high}}, eventColour, 0); err != nil {
			return nil, err
		}
	}
	for from := 0; from < len(least); from++ {
		if math.IsNaN(least[from]) {
			continue
		}
		var up, down plotter.XYs
		for ; from < len(least) && !math.IsNaN(least[from]); from++ {
			t := e.Start() + float64((float64(from)+.5)*e.Width())
			up, down = append(up, plotter.XY{X: t, Y: largest[from]}), append(down, plotter.XY{X: t, Y: least[from]})
		}
		for j := len(down) - 1; j >= 0; j-- {
			up = append(up, down[j])
		}
		if err := addPolygon(p, up, bandColour, 1); err != nil {
			return nil, err
		}
	}
	return p, nil
}

func addPolygon(p *plot.Plot, points plotter.XYs, c color.Color, line vg.Length) error {
	poly, err := plotter.NewPolygon(points)
	if err != nil {
		return err
	}
	poly.Color = c
	poly.LineStyle.Color, poly.LineStyle.Width = c, line
	p.Add(poly)
	return nil
}
