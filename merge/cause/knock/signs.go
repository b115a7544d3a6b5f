package knock

import "slices"

// signs is what a drive shows, in numbers that decisions rest on.
type signs struct {
	rises      [4]int  // of retard above the noise floor, by what happened just before
	stays      int     // in which knock was heard, not after a transient
	free       int     // of them with knock later than a second after a lift, or held
	loud       int     // events of 5 degrees or more at high load
	lightStays int     // of them at light load
	places     int     // different bins of them
	loadRate   float64 // stays with knock for each minute of listening under load
	lightRate  float64 // and at light load

	nearLight, nearLoad listening // about throttle lifts and lower gears: below load, under load
	early, late         listening // apart from them: with under 1, with 2 or more degrees off the table
	band                band

	need      float64 // mean need where knock was heard
	most      float64 // highest need
	heat      float64 // mean K over normal there
	follows   float64 // of that, K over the mean under load at the same operating points
	spread    float64 // of heat under load: the highest tenth less the lowest
	lean      float64 // mean % lean where knock was heard
	leanShare float64 // share of the knock under load where the mixture was lean by more than leanFrom
	measured  bool    // by lambda
	shown     float64 // share of the knock heard where the log shows the mixture

	pull      float64 // total squared need: what there is to explain
	explained map[Cause]float64
	fits      map[Cause]*model
	region    *regional
}

const (
	lightLoad = 0.4 // share of the drive's highest load up to which an engine hardly knocks
	leanFrom  = 6.0 // % by which a mixture is leaner than a sensor's lag and noise make it
)

// signs counts what was heard and fits every cause to it. Without knock there is nothing to
// fit, and the counts alone decide.
func (d *Drive) signs() *signs {
	g := &signs{explained: map[Cause]float64{}, fits: map[Cause]*model{}, loud: len(d.Events), measured: d.hasLambda, band: d.band()}
	g.count(d.Stays)
	if obs := d.observations(); g.observe(d, obs) {
		d.compete(g, obs)
	}
	return g
}

// count gathers how often something was heard, and when.
func (g *signs) count(stays []Stay) {
	var light, load listening
	places := map[int]bool{}
	for i := range stays {
		s := &stays[i]
		for k, n := range s.Heard {
			g.rises[k] += n
		}
		heard := listening{seconds: s.Seconds}
		if s.Knocked() {
			heard.heard = float64(s.number())
			g.stays += s.number()
			places[s.Bin] = true
		}
		g.free += s.numberApart()
		g.early.add(s.off[0])
		g.late.add(s.off[1])
		if s.Share >= loaded {
			load.add(heard)
			g.nearLoad.add(s.near)
			continue
		}
		g.nearLight.add(s.near)
		// Between light and loaded nothing is decided: some engines knock there, some don't.
		if s.Share < lightLoad {
			heard.seconds -= s.cut
			light.add(heard)
		}
	}
	g.places, g.lightStays = len(places), int(light.heard)
	g.loadRate, g.lightRate = 60*load.rate(), 60*light.rate()
}

// observe gathers what the engine ran like where it knocked; false where it did not.
func (g *signs) observe(d *Drive, obs []observation) bool {
	var n, under float64
	var heats []float64
	for i := range obs {
		o := &obs[i]
		heats = append(heats, o.heat)
		if !o.heard {
			continue
		}
		n += o.weight
		g.need += float64(o.weight * o.need)
		g.most = max(g.most, o.need)
		g.heat += float64(o.weight * o.heat)
		g.lean += float64(o.weight * o.lean)
		if d.Stays[o.time].mixtureShown() {
			g.shown += o.weight
		}
		if o.load < loaded {
			continue
		}
		under += o.weight
		if o.lean > leanFrom {
			g.leanShare += o.weight
		}
	}
	if n == 0 {
		return false
	}
	g.need, g.heat, g.lean, g.shown = g.need/n, g.heat/n, g.lean/n, g.shown/n
	g.leanShare /= max(under, 1e-9)
	slices.Sort(heats)
	g.spread = heats[len(heats)*9/10] - heats[len(heats)/10]
	g.follows = follows(obs)
	return true
}

// follows is by how many K the charge is hotter where knock is heard than its mean
// at the same operating points under load.
func follows(obs []observation) float64 {
	var sum, n float64
	mean := map[int][2]float64{} // by bin: Σ weight·heat, Σ weight
	for i := range obs {
		if o := &obs[i]; o.load >= loaded {
			m := mean[o.bin]
			mean[o.bin] = [2]float64{m[0] + float64(o.weight*o.heat), m[1] + o.weight}
		}
	}
	for i := range obs {
		if o := &obs[i]; o.heard && o.load >= loaded {
			m := mean[o.bin]
			sum, n = sum+float64(o.weight*(o.heat-m[0]/m[1])), n+o.weight
		}
	}
	return sum / max(n, 1)
}
