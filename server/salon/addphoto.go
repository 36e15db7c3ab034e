package salon

import (
	"context"
	"io"
	"path"
	"strings"

	"thatch/imaging"
	"thatch/store"
	"thatch/timeline"
)

// AddPhoto takes a photo in: received whole, judged, kept durably, paired with the session of its day. wantSHA is the hash
// that the sender announced, or "". Where the file is refused nothing of it stays, the fault is Invalid or TooLarge with a
// key "fault.photo.…", and Added still carries the facts that were read.
func (s *Salon) AddPhoto(ctx context.Context, dog timeline.ID, name string, r io.Reader, wantSHA string) (Added, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return Added{}, err
	}
	name = fileName(name)
	in, facts, err := s.receive(ctx, name, r, wantSHA)
	out := Added{Facts: facts}
	if err != nil {
		return out, err
	}
	defer in.Discard() // does nothing once the file is kept
	if p, err := s.st.PhotoBySHA(ctx, d.ID, in.SHA256); err == nil && p.Trashed.IsZero() {
		if err := s.st.HealOriginal(ctx, in); err != nil {
			return out, err
		}
		return s.already(ctx, out, p)
	} else if err != nil && !isNotFound(err) {
		return out, err
	}
	if err := s.checkNew(ctx, in, facts); err != nil {
		return out, err
	}
	o := originalOf(facts, s.Now())
	p, err := s.newPhoto(ctx, d, name, o)
	if err != nil {
		return out, err
	}
	kept, already, err := s.st.KeepPhoto(ctx, in, o, p, []store.Job{{Kind: store.KindDerive, Key: in.SHA256}})
	if err != nil {
		return out, err
	}
	if already {
		return s.already(ctx, out, kept)
	}
	if err := s.proposePhases(ctx, kept.Dog, kept.Session); err != nil {
		return out, err
	}
	return s.whereItWent(ctx, out, kept.ID, false)
}

// receive takes a file in whole and reads its headers. The caller discards or keeps what it got; beside an error there is
// nothing to discard, and the facts that were read stay.
func (s *Salon) receive(ctx context.Context, name string, r io.Reader, wantSHA string) (*store.Incoming, imaging.Facts, error) {
	zone, err := s.Zone(ctx)
	if err != nil {
		return nil, imaging.Facts{}, err
	}
	in, err := s.st.ReceiveFile(ctx, r, imaging.MaxBytes)
	if err != nil {
		if timeline.KindOf(err) == timeline.TooLarge {
			err = timeline.NewFault(timeline.TooLarge, "fault.photo.too_large_bytes", "max_mb", imaging.MaxBytes>>20).In("file").Because(err)
		}
		return nil, imaging.Facts{}, err
	}
	if wantSHA != "" && !strings.EqualFold(wantSHA, in.SHA256) {
		in.Discard()
		return nil, imaging.Facts{}, timeline.NewFault(timeline.Invalid, "fault.photo.hash").In("sha256").At("add photo " + in.SHA256)
	}
	facts, err := imaging.Inspect(in, in.Bytes, name, imaging.InspectOptions{Zone: zone, Now: s.Now()})
	facts.SHA256 = in.SHA256
	if err != nil {
		in.Discard()
		return nil, facts, photoFault(err, "inspect "+in.SHA256)
	}
	return in, facts, nil
}

// checkNew reads a photo to its end. An original that is kept already was read so when it came.
func (s *Salon) checkNew(ctx context.Context, in *store.Incoming, facts imaging.Facts) error {
	if _, err := s.st.Original(ctx, in.SHA256); !isNotFound(err) {
		return err
	}
	return photoFault(imaging.Check(ctx, in, in.Bytes, facts), "check "+in.SHA256)
}

func (s *Salon) already(ctx context.Context, out Added, p timeline.Photo) (Added, error) {
	return s.whereItWent(ctx, out, p.ID, true)
}

func (s *Salon) whereItWent(ctx context.Context, out Added, photo timeline.ID, already bool) (Added, error) {
	p, err := s.st.Photo(ctx, photo)
	if err != nil {
		return out, err
	}
	o, err := s.st.Original(ctx, p.SHA256)
	if err != nil {
		return out, err
	}
	out.Photo, out.Original, out.Already = p, o, already
	if p.Session != "" {
		v, err := s.Session(ctx, p.Session)
		if err == nil {
			out.Session = &v
			return out, nil
		}
		if !isNotFound(err) {
			return out, err
		}
	}
	out.OfferSession = !p.Moment.Day().IsZero()
	return out, nil
}

// newPhoto proposes what can be proposed before anybody has looked: the session of its local day, side and facing of the
// dog's last photo. The coat state is never guessed.
func (s *Salon) newPhoto(ctx context.Context, d timeline.Dog, name string, o timeline.Original) (timeline.Photo, error) {
	p := timeline.Photo{
		Dog: d.ID, SHA256: o.SHA256, File: name, Moment: o.ExifMoment, Phase: timeline.PhaseStart,
		Side: timeline.SideLeft, CoatState: timeline.CoatUnsaid, Facing: timeline.SideLeft,
		WidthPX: o.WidthPX, HeightPX: o.HeightPX,
	}
	photos, err := s.st.Photos(ctx, d.ID)
	if err != nil {
		return p, err
	}
	var last timeline.Photo
	for _, q := range photos {
		if last.ID == "" || q.Added.After(last.Added) {
			last = q
		}
	}
	if last.ID != "" {
		p.Side, p.Facing = last.Side, last.Facing
	}
	if day := p.Moment.Day(); !day.IsZero() {
		v, err := s.st.SessionOn(ctx, d.ID, day)
		if err == nil {
			p.Session = v.ID
		} else if !isNotFound(err) {
			return p, err
		}
	}
	return p, nil
}

// fileName is the last part of a name as a browser or a command gives it, either kind of slash.
func fileName(name string) string {
	name = path.Base(strings.ReplaceAll(name, `\`, "/"))
	if name == "." || name == "/" {
		name = ""
	}
	name, err := cleanLine("file", clip(name, 200), 201)
	if err != nil || name == "" {
		return "photo"
	}
	return name
}

// photoFault turns a refusal of imaging into a sentence; everything else stays what it is.
func photoFault(err error, op string) error {
	r := imaging.AsRefusal(err)
	if r == nil {
		return err
	}
	kind := timeline.Invalid
	switch r.Code {
	case imaging.CodeTooLargeBytes, imaging.CodeTooLargePX:
		kind = timeline.TooLarge
	case imaging.CodeUnreadable:
		kind = timeline.Internal
	}
	f := timeline.NewFault(kind, "fault.photo."+r.Code).In("file").At(op).Because(err)
	f.Say.Args = r.Args
	if format, ok := r.Args["format"].(string); ok && r.Code == imaging.CodeFormatUnsupported {
		f.Say = timeline.Say(f.Say.Key, "format", timeline.Say("format."+format))
	}
	return f
}
