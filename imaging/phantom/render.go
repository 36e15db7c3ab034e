package phantom

import (
	"image"
	"math/rand/v2"

	"thatch/timeline"
)

// Render draws the dog and tells the truth about the picture. The same arguments give the same pixels.
func Render(dog Dog, coat Coat, pose Pose, cam Camera, scene Scene) (*image.NRGBA, Truth) {
	if scene == (Scene{}) {
		scene = Rooms()[0]
	}
	m := model(dog, coat, pose, cam)
	m.set(scene)
	cam = m.cam
	img := newImage(cam.WidthPX, cam.HeightPX)
	m.paint(img, cam, scene)
	develop(img, cam)
	return img, m.truth
}

// TruthOf is the truth that Render would tell in an empty room, without the drawing.
func TruthOf(dog Dog, coat Coat, pose Pose, cam Camera) Truth {
	return TruthIn(dog, coat, pose, cam, Scene{})
}

// TruthIn is the truth that Render would tell, without the drawing.
func TruthIn(dog Dog, coat Coat, pose Pose, cam Camera, scene Scene) Truth {
	m := model(dog, coat, pose, cam)
	m.set(scene)
	return m.truth
}

// set tells the truth about the scene.
func (m *figure) set(scene Scene) {
	m.truth.Crossed = scene.Crossed()
	if scene.Board != nil {
		m.truth.Board = m.corners(*scene.Board)
	}
}

// figure is a posed dog with its coat, before it is drawn.
type figure struct {
	s            stance
	sight        sight
	coat         Coat
	v            view
	f            *form
	near         []vertex
	far          [][]vertex
	nearCov      []uint8
	farCov       []uint8
	truth        Truth
	rng          *rand.Rand
	cam          Camera
	widthPX, hPX int
}

func model(dog Dog, coat Coat, pose Pose, cam Camera) *figure {
	dog = dog.orDefaults()
	if pose.Facing == "" {
		pose.Facing = timeline.SideLeft
	}
	cam = cam.orFrame(dog)
	if cam.DistanceMM > 0 {
		cam.DistanceMM = max(cam.DistanceMM, 2*dog.WithersMM)
	} else {
		cam.DistanceMM = 0
	}
	s := stand(dog, pose)
	m := &figure{s: s, coat: coat, v: cam.view(pose.Facing), sight: cam.sight(s), cam: cam, widthPX: cam.WidthPX, hPX: cam.HeightPX,
		rng: rand.New(rand.NewPCG(uint64(dog.Seed), uint64(cam.Seed)*2654435761+17))}
	m.f = formOf(s, coat, m.v.mirror)
	t := Truth{MMPerPX: cam.MMPerPX, FocalPX: cam.DistanceMM / cam.MMPerPX, RollDeg: cam.RollDeg, YawDeg: pose.YawDeg, PitchDeg: pose.PitchDeg,
		Facing: pose.Facing, WithersMM: dog.WithersMM}
	if t.FocalPX > 0 {
		t.MMPerPX *= 1 - (cam.CenterXMM-m.sight.mx)*m.sight.sin/m.sight.cos/cam.DistanceMM
	}
	n := cam.WidthPX * cam.HeightPX
	m.nearCov, m.farCov = make([]uint8, n), make([]uint8, n)

	var marks map[timeline.Point]int
	m.near, marks = skinLine(nearSide, s, coat, m.rng)
	m.sight.look(m.near)
	xs, ys, from := outlineOf(m.near)
	t.Outline = m.project(xs, ys, m.nearCov)
	for _, i := range from {
		t.OutlineZones = append(t.OutlineZones, m.near[i].zone)
	}
	for i := range m.near {
		t.SkinLine = append(t.SkinLine, m.v.xy(m.near[i].sx, m.near[i].sy))
		t.Depths = append(t.Depths, m.near[i].depth)
		t.SkinZones = append(t.SkinZones, m.near[i].zone)
	}
	for i := range m.near {
		t.Shown = append(t.Shown, m.near[i].shown)
	}
	for i, leg := range [][]node{farFore, farHind} {
		shift := [][2]float64{farForeShift, farHindShift}[i]
		vs, _ := skinLine(leg, s, coat, m.rng)
		for k := range vs {
			vs[k].x += shift[0] * s.mm
			// A pinhole looks down on the table by itself.
			if cam.DistanceMM == 0 {
				vs[k].y += shift[1] * s.mm
			}
			vs[k].z = -vs[k].z
		}
		m.sight.look(vs)
		ax, ay, _ := outlineOf(vs)
		t.Far = append(t.Far, m.project(ax, ay, m.farCov))
		m.far = append(m.far, vs)
	}
	t.Mask = image.NewGray(image.Rect(0, 0, m.widthPX, m.hPX))
	for i := range t.Mask.Pix {
		if m.nearCov[i] >= 128 || m.farCov[i] >= 128 {
			t.Mask.Pix[i] = 255
		}
	}
	t.DepthMM = depths(m.near)
	t.Landmarks, t.SkinLandmarks = m.landmarks(marks, xs, ys)
	m.truth = t
	return m
}

func (m *figure) project(xs, ys []float64, cov []uint8) []timeline.XY {
	out := make([]timeline.XY, len(xs))
	fx, fy := make([]float32, len(xs)), make([]float32, len(xs))
	for i := range xs {
		out[i] = m.v.xy(xs[i], ys[i])
		fx[i], fy[i] = float32(out[i].X), float32(out[i].Y)
	}
	fill(cov, m.widthPX, m.hPX, fx, fy)
	return out
}

// paint draws from the back to the front: room, far legs, then the near side's hair by layers, then the face.
func (m *figure) paint(img *image.NRGBA, cam Camera, scene Scene) {
	c := &canvas{img: img, w: m.widthPX, h: m.hPX}
	r := room{scene: scene, v: m.v, h: m.s.dog.WithersMM}
	r.draw(c, cam)
	r.stand(c, m.s.dog.Build.Body)
	mm := m.s.mm
	foot := func(x float64, dy float64) [4]float64 {
		root, _ := m.s.place(x, 1)
		z := girthOf(node{x: x, like: timeline.Feet}).z * mm
		if dy > mm {
			z = -z
			if m.sight.distance > 0 {
				dy = 0
			}
		}
		px, py, _ := m.sight.at(root, 0, z)
		return [4]float64{px, py + dy, 13 * mm, 4.2 * mm}
	}
	middle, _ := m.s.place(36, 60)
	bodyX, bodyY, _ := m.sight.at(middle, 0, 0)
	r.cast(c, bodyX, mm)
	if scene.Board != nil && scene.Board.ZMM <= 0 {
		m.board(c, r, *scene.Board)
	}
	r.shadows(c, [][4]float64{
		{bodyX, bodyY + 2*mm, 66 * mm, 7 * mm}, {bodyX, bodyY + 2*mm, 50 * mm, 6 * mm},
		foot(-12.5, 2*mm), foot(70, 2*mm), foot(-8.5, 0.2*mm), foot(79.5, 0.2*mm),
	})

	b := &brush{c: c, v: m.v, g: &m.sight, f: m.f, p: paintOf(m.s), s: m.s, rng: m.rng, salt: m.rng.Uint64()}
	// Strokes no finer than the pixels can show, so that small pictures are quick.
	px := 1 / m.v.perMM
	gap := max(2.0, 1.9*px)
	width := max(0.95, 1.0*px)

	if !m.sight.plain {
		m.f.swell()
	}
	// A pixel may hold several strands; no more are drawn than show.
	strand, each := max(0.44, 0.9*px), max(0.3, 0.6*px)

	b.shade = 0.60
	b.far, b.cov = true, m.farCov
	core := make([]uint8, len(m.farCov))
	for _, vs := range m.far {
		m.fill(vs, core)
	}
	c.clip = core
	b.undercoat(core, 0.8)
	c.clip = m.farCov
	var ts []tuft
	for _, vs := range m.far {
		ts = append(ts, b.fringe(vs, strand, 1.5*each)...)
		x0, y0, x1, y1 := bounds(vs)
		ts = append(ts, b.flank(x0, y0, x1, y1, gap*1.5, width*1.2, 0.9, 0.8, 0.95, true, m.covered(core))...)
	}
	b.draw(ts)

	b.shade = 1
	b.far, b.cov = false, m.nearCov
	clear(core)
	m.fill(m.near, core)
	c.clip = core
	b.undercoat(core, 0.70)
	x0, y0, x1, y1 := bounds(m.near)
	inside := m.covered(core)
	b.draw(b.flank(x0, y0, x1, y1, gap*2.1, width*2.6, 1, 0.6, 0.80, false, inside))
	c.clip = m.nearCov
	ts = b.fringe(m.near, strand, each)
	ts = append(ts, b.flank(x0, y0, x1, y1, gap, width, 1, 0.80, 1, true, inside)...)
	b.draw(ts)
	m.head(b, width)
	c.clip = nil
	if scene.Board != nil && scene.Board.ZMM > 0 {
		m.board(c, r, *scene.Board)
	}
	if scene.Lead {
		m.lead(c)
	}
	if scene.Hand != NoHand {
		m.hand(c, scene.Hand)
	}
}

// fill adds to cov where the coat of vs is closed.
func (m *figure) fill(vs []vertex, cov []uint8) {
	xs, ys := m.closed(vs)
	m.project(xs, ys, cov)
}

// head adds eye, nose, ear, brows and beard over the hair of the head.
func (m *figure) head(b *brush, width float64) {
	brow, beard := m.coat.of(timeline.Brows).LengthMM, m.coat.of(timeline.Beard).LengthMM
	b.toes()
	b.eye()
	b.nose()
	u := func() float64 { return b.rng.Float64() }
	// Moustache and beard: from the muzzle's side forward and down.
	b.longHair(int(330+3*beard), func() (float64, float64, float64, float64, float64) {
		t := u()
		x, y := -53-22*t, 115+3.4*u()+0.6*t
		return x, y, -0.12 - 0.45*t*t + 0.3*(u()-0.5), -1, 6 + beard*(0.28+0.42*u())*(0.7+0.5*t)
	}, width*1.3, 1)
	b.longHair(int(140+1.6*brow), func() (float64, float64, float64, float64, float64) {
		t := u()
		return -53.8 - 7*t, 131 - 3.6*t + 1.6*u(), -1, -0.25 - 0.75*u(), (0.34 + 0.3*u()) * brow * (0.9 - 0.25*t)
	}, width*1.15, 1.0)
	b.ear(0.55 * m.coat.of(timeline.Skull).DepthMM() / m.s.mm)
}

func (m *figure) covered(cov []uint8) func(x, y float64) bool {
	return func(x, y float64) bool {
		px, py := m.v.px(x, y)
		i, j := int(px+0.5), int(py+0.5)
		return px > 0 && py > 0 && i < m.widthPX && j < m.hPX && cov[j*m.widthPX+i] > 127
	}
}

func bounds(vs []vertex) (x0, y0, x1, y1 float64) {
	x0, y0 = vs[0].x, vs[0].y
	x1, y1 = x0, y0
	for i := range vs {
		x, y := vs[i].tx, vs[i].ty
		x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
	}
	return
}

func newImage(w, h int) *image.NRGBA { return image.NewNRGBA(image.Rect(0, 0, w, h)) }
