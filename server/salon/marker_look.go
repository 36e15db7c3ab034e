package salon

import (
	"context"
	"fmt"
	"image"
	"runtime"
	"runtime/debug"
	"slices"

	"thatch/imaging"
	"thatch/imaging/align/marker"
	"thatch/store"
	"thatch/timeline"
)

// lookVersion is the version of what looks for the table marker. A photo that an older one has looked at is looked at again.
const lookVersion = 2

// lookFailed stands beside the marker's own troubles: the photo could not be looked at.
const lookFailed = "failed"

func lookedAt(o timeline.Original) bool { return o.Marker != nil && o.Marker.Maker >= lookVersion }

// focalPX is the focal length of a photo in its own px, 0 where the file does not say it.
func focalPX(f imaging.Facts) float64 {
	return marker.FocalPX(float64(f.Focal35MM), f.WidthPX, f.HeightPX)
}

// lookForMarker looks for the table marker in an original, once. A file that cannot be decoded shows none; its photos say
// what is wrong with it.
func (s *Salon) lookForMarker(ctx context.Context, sha string) error {
	o, err := s.st.Original(ctx, sha)
	if err != nil || lookedAt(o) {
		return err
	}
	release, err := s.looking.take(ctx, "")
	if err != nil {
		return err
	}
	defer release()
	blob, err := s.st.OpenOriginal(ctx, sha)
	if err != nil {
		return err
	}
	defer blob.Close()
	facts, img, err := decodeWhole(ctx, blob)
	if err = photoFault(err, "look for marker "+sha); err != nil && !unusable(err) {
		return err
	}
	focal := focalPX(facts)
	if focal != o.FocalPX { // a file that came before focal lengths were read
		if err := s.st.SetFocal(ctx, sha, focal); err != nil {
			return err
		}
	}
	look := timeline.MarkerLook{Maker: lookVersion}
	var failed error
	if img != nil {
		look, failed = findMarker(img, focal)
		// A hundred megabytes a photo: left to itself, the collector would let the next one be decoded beside this one.
		runtime.GC()
	}
	if err := s.st.SetMarkerLook(ctx, sha, look); err != nil {
		return err
	}
	return failed
}

func decodeWhole(ctx context.Context, blob store.Blob) (imaging.Facts, *image.NRGBA, error) {
	facts, err := imaging.Inspect(blob, blob.Size(), "", imaging.InspectOptions{})
	if err != nil {
		return facts, nil, err
	}
	img, err := imaging.Decode(ctx, blob, blob.Size(), facts)
	return facts, img, err
}

// makeAndLook makes the derivatives. HEIC is looked at for the marker in the same go, because decoding it twice would take
// seconds; look is nil where the photo is left for the job behind.
func (s *Salon) makeAndLook(ctx context.Context, blob store.Blob, o timeline.Original, facts imaging.Facts) (d imaging.Derivatives, look *timeline.MarkerLook, err error) {
	if facts.Format != imaging.FormatHEIC || lookedAt(o) {
		d, err = imaging.Make(ctx, blob, blob.Size(), facts)
		return d, nil, err
	}
	release, err := s.looking.take(ctx, "")
	if err != nil {
		return d, nil, err
	}
	defer release()
	d, err = imaging.MakeShown(ctx, blob, blob.Size(), facts, func(img *image.NRGBA) {
		if found, err := findMarker(img, o.FocalPX); err == nil { // what fails here is tried, and told, by the job
			look = &found
		}
	})
	return d, look, err
}

// findMarker is what a look finds. A defect of the finder is an error beside a look that says that it failed: the photo
// is as good as before, and looking again would fail again.
func findMarker(img *image.NRGBA, focalPX float64) (look timeline.MarkerLook, err error) {
	look = timeline.MarkerLook{Told: []string{lookFailed}, Maker: lookVersion}
	defer func() {
		if v := recover(); v != nil {
			err = fmt.Errorf("salon: marker: panic: %v\n%s", v, debug.Stack())
		}
	}()
	return lookOf(marker.Find(img, marker.Options{FocalPX: focalPX})), nil
}

// lookOf is what is kept of what was found: each trouble once.
func lookOf(f marker.Found) timeline.MarkerLook {
	look := timeline.MarkerLook{Told: []string{}, Maker: lookVersion}
	for _, t := range f.Told {
		if code := string(t.Trouble); !slices.Contains(look.Told, code) {
			look.Told = append(look.Told, code)
		}
	}
	if m := f.Marker; m != nil {
		look.Seen = &timeline.MarkerSeen{
			Dog: m.Text.Dog, SizeMM: m.Text.SizeMM, CornersPX: m.CornersPX, MMPerPX: m.MMPerPX, SDMMPerPX: m.SDMMPerPX,
			UprightMMPerPX: m.UprightMMPerPX, TiltDeg: m.TiltDeg, RollDeg: m.RollDeg, GreyRGB: m.GreyRGB, WhiteRGB: m.WhiteRGB,
		}
	}
	return look
}

// LookAtOlder has the photos looked at for the table marker that nobody looked at yet, or only an older version: one after
// the other, newest first, each behind whatever has come in meanwhile.
func (s *Salon) LookAtOlder(ctx context.Context) error {
	list, err := s.st.LookedAtBefore(ctx, lookVersion)
	if err != nil || len(list) == 0 {
		return err
	}
	return s.st.EnqueueJobs(ctx, store.Job{Kind: store.KindMarkerOlder, Key: list[0]})
}

// lookAndGoOn looks at one of the older photos and puts the next one into the queue, whatever became of this one.
func (s *Salon) lookAndGoOn(ctx context.Context, sha string) error {
	list, err := s.st.LookedAtBefore(ctx, lookVersion)
	if err != nil {
		return err
	}
	err = s.lookForMarker(ctx, sha)
	if next := slices.Index(list, sha) + 1; next < len(list) && ctx.Err() == nil {
		if err := s.st.EnqueueJobs(ctx, store.Job{Kind: store.KindMarkerOlder, Key: list[next]}); err != nil {
			return err
		}
	}
	return err
}
