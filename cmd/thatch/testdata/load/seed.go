package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math/rand/v2"
	"time"

	"thatch/imaging"
	"thatch/server/salon"
	"thatch/store"
	"thatch/timeline"
)

// nameOf and passwordOf are those of the i-th person, the owner first.
func nameOf(i int) string { return fmt.Sprintf("Groomer %03d", i) }

func passwordOf(i int) string { return fmt.Sprintf("the %03d wicker baskets", i) }

func seedPeople(ctx context.Context, s *salon.Salon, n int) error {
	code, err := s.MakeOwnerCode(ctx, time.Hour)
	if err != nil {
		return err
	}
	if _, err := s.OwnerByCode(ctx, code, nameOf(0), passwordOf(0), salon.Knock{}); err != nil {
		return err
	}
	for i := 1; i < n; i++ {
		token, _, err := s.Invite(ctx, nameOf(i), timeline.Groomer)
		if err != nil {
			return err
		}
		if _, err := s.Join(ctx, token, nameOf(i), passwordOf(i)); err != nil {
			return err
		}
	}
	return nil
}

// seed fills an empty folder with an invented salon of the given size: every dog was on the table every fortnight up to
// one of the last days, with work, readings and photos, and goes to a show in six weeks.
func seed(ctx context.Context, dir string, dogs, photos, sessions, people int) error {
	st, err := store.Open(ctx, dir, store.Options{})
	if err != nil {
		return err
	}
	defer st.Close()
	s := salon.New(st, salon.Options{})
	today, err := s.Today(ctx)
	if err != nil {
		return err
	}
	picture, err := drawing()
	if err != nil {
		return err
	}
	if people > 0 {
		if err := seedPeople(ctx, s, people); err != nil {
			return err
		}
	}
	rng := rand.New(rand.NewPCG(1, uint64(photos)))
	n := 0
	for i := range dogs {
		if err := seedDog(ctx, st, s, rng, today, i, sessions, photos/dogs, picture, &n); err != nil {
			return err
		}
		if i%10 == 9 {
			fmt.Printf("%d of %d dogs, %d photos\n", i+1, dogs, n)
		}
	}
	return nil
}

func seedDog(ctx context.Context, st *store.Store, s *salon.Salon, rng *rand.Rand, today timeline.Day, i, sessions, photos int, picture []byte, n *int) error {
	last := today - timeline.Day(i%14) // a fortnight's dogs, so many a day
	first := last - timeline.Day(14*(sessions-1))
	d, err := s.CreateDog(ctx, salon.NewDog{
		Name: fmt.Sprintf("Dog %03d", i), Client: "Invented", WithersMM: 330 + rng.Float64()*60, ShareOK: true,
		Answers: timeline.Answers{On: first, LastWorked: first - 200, LongestWithersMM: 40 + rng.Float64()*10},
		Next:    max(today, last+14), Notes: "Drawn by lot.",
	})
	if err != nil {
		return err
	}
	if _, err := s.AddShow(ctx, timeline.Show{Dog: d.ID, Name: "Invented show", On: today + 42, Priority: 1}); err != nil {
		return err
	}
	for v := range sessions {
		on := first + timeline.Day(14*v)
		visit, err := s.OpenSession(ctx, d.ID, on)
		if err != nil {
			return err
		}
		if v%3 == 1 {
			mm := map[timeline.Zone]float64{timeline.Back: 12 + rng.Float64()*8, timeline.Loin: 12 + rng.Float64()*8, timeline.Thigh: 15 + rng.Float64()*8}
			if _, err := s.AddReadings(ctx, d.ID, visit.ID, on, mm, true); err != nil {
				return err
			}
		}
		if on < last {
			edit := salon.SessionEdit{ID: visit.ID, Rev: visit.Rev, Minutes: 110, Loft: timeline.LoftSome, Note: "As planned."}
			for k, z := range timeline.Zones() {
				if (k+v)%3 != 0 {
					continue
				}
				w := timeline.ZoneWork{Zone: z, Do: timeline.Take, Share: 0.33, Ripeness: timeline.Ready, Skin: timeline.SkinFine, Cover: timeline.CoverFull}
				if z == timeline.Feet || z == timeline.Belly {
					w = timeline.ZoneWork{Zone: z, Do: timeline.Scissor, Skin: timeline.SkinFine}
				}
				edit.Work = append(edit.Work, w)
			}
			if _, err := s.SaveSession(ctx, edit); err != nil {
				return err
			}
		}
		for p := photos * v / sessions; p < photos*(v+1)/sessions; p++ {
			if err := seedPhoto(ctx, st, d.ID, visit, p, picture, n); err != nil {
				return err
			}
		}
	}
	return nil
}

// seedPhoto keeps a photo as an upload does, each a file of its own, with its derivatives.
func seedPhoto(ctx context.Context, st *store.Store, dog timeline.ID, v timeline.Session, k int, picture []byte, n *int) error {
	*n++
	file := append(bytes.Clone(picture), binary.BigEndian.AppendUint64(nil, uint64(*n))...) // behind the end of the image: a file of its own
	in, err := st.ReceiveFile(ctx, bytes.NewReader(file), imaging.MaxBytes)
	if err != nil {
		return err
	}
	local := fmt.Sprintf("%sT%02d:%02d:00", v.On, 9+k%20/10, k%60)
	at, err := time.Parse("2006-01-02T15:04:05", local)
	if err != nil {
		return err
	}
	m := timeline.Moment{Instant: at, Local: local, OffsetKnown: true, Source: timeline.SourceExif, Flags: []string{}}
	o := timeline.Original{Format: "jpeg", WidthPX: 1024, HeightPX: 768, Orientation: 1, Camera: "Invented", ExifMoment: m, SuggestMoment: timeline.Moment{Source: timeline.SourceNone}}
	p := timeline.Photo{
		Dog: dog, File: fmt.Sprintf("photo%d.jpg", *n), Session: v.ID, Moment: m, Phase: timeline.PhaseStart, Side: timeline.SideLeft,
		CoatState: timeline.CoatBrushedDown, Facing: timeline.SideLeft, WidthPX: 1024, HeightPX: 768,
		Landmarks: timeline.Landmarks{"withers": {X: 400, Y: 300}, "tail_set": {X: 700, Y: 310}, "prosternum": {X: 330, Y: 380}, "buttock": {X: 740, Y: 380}, "elbow": {X: 420, Y: 480}},
	}
	if k%2 == 1 {
		p.Phase = timeline.PhaseEnd
	}
	kept, _, err := st.KeepPhoto(ctx, in, o, p, nil)
	if err != nil {
		return err
	}
	for _, kind := range []salon.PictureKind{salon.PictureThumb, salon.PictureView} {
		if err := st.PutDerived(ctx, kept.SHA256, string(kind), imaging.MakerVersion, picture); err != nil {
			return err
		}
	}
	if err := st.SetMarkerLook(ctx, kept.SHA256, timeline.MarkerLook{Maker: 1 << 20}); err != nil { // looked at when it came
		return err
	}
	return st.SetPhotoReady(ctx, kept.SHA256, "")
}

// drawing is a picture of about the size of a phone's photo made smaller: 60 to 100 kB.
func drawing() ([]byte, error) {
	img := image.NewNRGBA(image.Rect(0, 0, 1024, 768))
	rng := rand.New(rand.NewPCG(3, 3))
	for y := range 768 {
		for x := range 1024 {
			v := uint8(80 + x/16 + rng.IntN(24))
			img.SetNRGBA(x, y, color.NRGBA{v, v, uint8(y / 4), 255})
		}
	}
	var out bytes.Buffer
	err := jpeg.Encode(&out, img, &jpeg.Options{Quality: 60})
	return out.Bytes(), err
}
