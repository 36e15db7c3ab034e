package salon

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/jpeg"

	"thatch/imaging"
	"thatch/imaging/align"
	"thatch/store"
	"thatch/timeline"
)

const jpegType = "image/jpeg"

// alignedVersion is the version of what lays one photo over another; it is part of a picture's name.
const alignedVersion = 1

// The formats that are taken, by their names in IANA's registry of media types.
var mediaTypes = map[string]string{"jpeg": jpegType, "png": "image/png", "webp": "image/webp", "heic": "image/heic"}

// Picture opens a size of a photo; a derivative that was not made yet is made now. Photos in the trash are NotFound.
func (s *Salon) Picture(ctx context.Context, photo timeline.ID, kind PictureKind) (Picture, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return Picture{}, err
	}
	return s.picture(ctx, p, kind)
}

func (s *Salon) picture(ctx context.Context, p timeline.Photo, kind PictureKind) (Picture, error) {
	switch kind {
	case PictureOriginal:
		o, err := s.st.Original(ctx, p.SHA256)
		if err != nil {
			return Picture{}, err
		}
		blob, err := s.st.OpenOriginal(ctx, p.SHA256)
		if err != nil {
			return Picture{}, err
		}
		return Picture{ReadSeekCloser: blob, Type: mediaTypes[o.Format], ETag: `"` + p.SHA256 + `"`}, nil
	case PictureThumb, PictureView:
		blob, err := s.derived(ctx, p.SHA256, kind)
		if err != nil {
			return Picture{}, err
		}
		etag := fmt.Sprintf(`"%s-%s-%d"`, p.SHA256[:32], kind, imaging.MakerVersion)
		return Picture{ReadSeekCloser: blob, Type: jpegType, ETag: etag}, nil
	}
	return Picture{}, notFound("picture " + string(kind))
}

// derived opens a derivative, making all of them where it is not there.
func (s *Salon) derived(ctx context.Context, sha string, kind PictureKind) (store.Blob, error) {
	blob, err := s.st.OpenDerived(ctx, sha, string(kind), imaging.MakerVersion)
	if !isNotFound(err) {
		return blob, err
	}
	if err := s.derive(ctx, sha); err != nil {
		return nil, err
	}
	return s.st.OpenDerived(ctx, sha, string(kind), imaging.MakerVersion)
}

// derive makes the derivatives of an original that are not there yet. A file that turns out not to be readable is a Fault
// of kind Invalid.
func (s *Salon) derive(ctx context.Context, sha string) error {
	release, err := s.deriving.take(ctx, sha) // the memory of many at once is imaging's to bound
	if err != nil {
		return err
	}
	defer release()
	there := 0
	for _, kind := range []PictureKind{PictureThumb, PictureView} {
		blob, err := s.st.OpenDerived(ctx, sha, string(kind), imaging.MakerVersion)
		if err == nil {
			there++
			blob.Close()
		} else if !isNotFound(err) {
			return err
		}
	}
	if there == 2 {
		return nil
	}
	o, err := s.st.Original(ctx, sha)
	if err != nil {
		return err
	}
	blob, err := s.st.OpenOriginal(ctx, sha)
	if err != nil {
		return err
	}
	defer blob.Close()
	facts, err := imaging.Inspect(blob, blob.Size(), "", imaging.InspectOptions{})
	if err != nil {
		return photoFault(err, "derive "+o.SHA256)
	}
	d, look, err := s.makeAndLook(ctx, blob, o, facts)
	if err != nil {
		return photoFault(err, "derive "+o.SHA256)
	}
	for _, one := range []struct {
		kind PictureKind
		b    []byte
	}{{PictureView, d.View}, {PictureThumb, d.Thumb}} {
		if err := s.st.PutDerived(ctx, sha, string(one.kind), imaging.MakerVersion, one.b); err != nil {
			return err
		}
	}
	if look != nil {
		return s.st.SetMarkerLook(ctx, sha, *look)
	}
	return nil
}

// holdPixels waits for the turn to hold decoded pictures.
func (s *Salon) holdPixels(ctx context.Context) (release func(), err error) {
	select {
	case s.pixels <- struct{}{}:
		return func() { <-s.pixels }, nil
	case <-ctx.Done():
		return nil, timeline.NewFault(timeline.Busy, "fault.salon.busy").At("wait for pixels").Because(ctx.Err())
	}
}

// decoded is the pixels of a derivative that was made. Derivatives are our own JPEGs: upright, sRGB, of bounded size. It
// makes none itself: its caller holds the turn that making waits for.
func (s *Salon) decoded(ctx context.Context, sha string, kind PictureKind) (*image.NRGBA, error) {
	blob, err := s.st.OpenDerived(ctx, sha, string(kind), imaging.MakerVersion)
	if err != nil {
		return nil, err
	}
	defer blob.Close()
	facts, err := imaging.Inspect(blob, blob.Size(), "", imaging.InspectOptions{})
	if err != nil {
		return nil, photoFault(err, "read derivative "+sha)
	}
	img, err := imaging.Decode(ctx, blob, blob.Size(), facts)
	if err != nil {
		return nil, photoFault(err, "read derivative "+sha)
	}
	return img, nil
}

// AlignedPicture is photo laid over ref, in ref's view size: the trunk of one lies on the trunk of the other. It is made
// once and kept as long as neither the points nor the expected depths change. Photos that cannot be laid over each other
// are Invalid with the reason.
func (s *Salon) AlignedPicture(ctx context.Context, photo, ref timeline.ID) (Picture, error) {
	return s.LaidPicture(ctx, photo, ref, Laid{})
}

// Laid is how a photo is shown over another.
type Laid struct {
	Balanced bool // under the light of BalancedPicture
	Half     bool // half as wide and as high: what a phone's screen shows, and what is played in a row
}

// LaidPicture is AlignedPicture as how says. A photo over itself is only made smaller: that takes no points.
func (s *Salon) LaidPicture(ctx context.Context, photo, ref timeline.ID, how Laid) (Picture, error) {
	over, err := s.Photo(ctx, photo)
	if err == nil && photo == ref && !how.Balanced {
		p := pair{ref: over, over: over, drawn: true, half: how.Half, align: align.Result{Transform: align.Identity()}}
		return s.aligned(ctx, p)
	}
	if err != nil {
		return Picture{}, err
	}
	under, err := s.Photo(ctx, ref)
	if err != nil {
		return Picture{}, err
	}
	if over.Dog != under.Dog {
		return Picture{}, invalid("ref", "fault.photo.other_dog")
	}
	pair, err := s.pairUp(ctx, under, over)
	if err != nil {
		return Picture{}, err
	}
	pair.half = how.Half
	if how.Balanced {
		look, err := s.balanceLook(ctx, under, over)
		if err != nil {
			return Picture{}, err
		}
		if !look.Can {
			return Picture{}, notBalanced(photo)
		}
		pair.balance = &look.over
	}
	return s.aligned(ctx, pair)
}

func (s *Salon) aligned(ctx context.Context, pair pair) (Picture, error) {
	if !pair.drawn {
		return Picture{}, timeline.NewFault(timeline.Invalid, "fault.photo.not_alignable").At("align " + string(pair.over.ID))
	}
	t := pair.align
	name := sha256.Sum256(fmt.Appendf(nil, "%d %s %v %t", alignedVersion, pair.ref.SHA256, t.Transform, t.Mirrored))
	if pair.balance != nil {
		name = sha256.Sum256(fmt.Appendf(name[:], " %v", *pair.balance))
	}
	if pair.half {
		name = sha256.Sum256(append(name[:], " half"...))
	}
	kind := "aligned-" + hex.EncodeToString(name[:12])
	etag := fmt.Sprintf(`"%s-%s-%d"`, pair.over.SHA256[:32], kind, imaging.MakerVersion)
	blob, err := s.st.OpenDerived(ctx, pair.over.SHA256, kind, imaging.MakerVersion)
	if isNotFound(err) {
		var b []byte
		if b, err = s.warp(ctx, pair); err != nil {
			return Picture{}, err
		}
		if err := s.st.PutDerived(ctx, pair.over.SHA256, kind, imaging.MakerVersion, b); err != nil {
			return Picture{}, err
		}
		blob, err = s.st.OpenDerived(ctx, pair.over.SHA256, kind, imaging.MakerVersion)
	}
	if err != nil {
		return Picture{}, err
	}
	return Picture{ReadSeekCloser: blob, Type: jpegType, ETag: etag}, nil
}

func (s *Salon) warp(ctx context.Context, pair pair) ([]byte, error) {
	ref, err := s.derived(ctx, pair.ref.SHA256, PictureView)
	if err != nil {
		return nil, err
	}
	frame, err := jpeg.DecodeConfig(ref)
	ref.Close()
	if err != nil {
		return nil, timeline.NewFault(timeline.Internal, "fault.internal").At("read view " + pair.ref.SHA256).Because(err)
	}
	if err := s.derive(ctx, pair.over.SHA256); err != nil {
		return nil, err
	}
	release, err := s.holdPixels(ctx)
	if err != nil {
		return nil, err
	}
	defer release()
	img, err := s.decoded(ctx, pair.over.SHA256, PictureView)
	if err != nil {
		return nil, err
	}
	width, height := frame.Width, frame.Height
	if pair.half {
		width, height = max(1, width/2), max(1, height/2)
	}
	toView := between(pair.ref.WidthPX, width)
	fromView := between(img.Bounds().Dx(), pair.over.WidthPX)
	out := align.Warp(img, toView.Compose(pair.align.Transform).Compose(fromView), pair.align.Mirrored, width, height)
	if pair.balance != nil {
		pair.balance.Apply(out)
	}
	var b bytes.Buffer
	quality := 85
	if pair.half {
		quality = 78
	}
	if err := imaging.EncodeJPEG(&b, out, quality); err != nil {
		return nil, timeline.NewFault(timeline.Internal, "fault.internal").At("encode aligned " + pair.over.SHA256).Because(err)
	}
	return b.Bytes(), nil
}

// between maps the pixels of a picture of one width onto the same picture at another width; centres of pixels are whole
// numbers, so that the edges and not the centres of the corner pixels meet.
func between(fromWidthPX, toWidthPX int) align.Similarity {
	k := float64(toWidthPX) / float64(fromWidthPX)
	return align.Similarity{A: k, TX: (k - 1) / 2, TY: (k - 1) / 2}
}

// scaled carries points from a picture of one width to the same picture at another.
func scaled(lm timeline.Landmarks, fromWidthPX, toWidthPX int) timeline.Landmarks {
	t := between(fromWidthPX, toWidthPX)
	out := make(timeline.Landmarks, len(lm))
	for p, xy := range lm {
		out[p] = t.Apply(xy)
	}
	return out
}

// RunJob does a piece of queued work; doing it twice does no harm. A file that cannot be used is said on its photos and is
// no error: trying again would not help.
func (s *Salon) RunJob(ctx context.Context, job store.Job) error {
	switch job.Kind {
	case store.KindDerive:
		return s.prepare(ctx, job.Key)
	case store.KindMarker:
		return s.lookForMarker(ctx, job.Key)
	case store.KindMarkerOlder:
		return s.lookAndGoOn(ctx, job.Key)
	}
	return fmt.Errorf("salon: unknown kind of job %q", job.Kind)
}

// prepare makes a new photo's pictures. The look for the marker is a piece of work of its own: it comes after the pictures
// of all that arrived together.
func (s *Salon) prepare(ctx context.Context, sha string) error {
	err := s.derive(ctx, sha)
	if unusable(err) {
		return s.st.SetPhotoReady(ctx, sha, faultOf(err).Say.Key)
	}
	if err != nil {
		return err
	}
	if err := s.st.SetPhotoReady(ctx, sha, ""); err != nil {
		return err
	}
	o, err := s.st.Original(ctx, sha)
	if err != nil || lookedAt(o) {
		return err
	}
	return s.st.EnqueueJobs(ctx, store.Job{Kind: store.KindMarker, Key: sha})
}

// unusable: the file is at fault, not the machine.
func unusable(err error) bool {
	f := faultOf(err)
	return f != nil && (f.Kind == timeline.Invalid || f.Kind == timeline.TooLarge)
}
