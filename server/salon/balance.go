package salon

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"thatch/imaging"
	"thatch/timeline"
)

// balanceOf is the white balance that the table marker's patches ask for in a photo. Where the marker was not seen, or its
// patches tell no colour, there is none; why says which.
func (s *Salon) balanceOf(ctx context.Context, p timeline.Photo) (b imaging.Balance, why timeline.Phrase, err error) {
	o, err := s.st.Original(ctx, p.SHA256)
	if err != nil {
		return b, why, err
	}
	on := p.Moment.Day()
	if o.Marker == nil || o.Marker.Seen == nil {
		return b, timeline.Say("balance.no_marker", "on", on, "phase", p.Phase), nil
	}
	b, ok := imaging.BalanceOf(o.Marker.Seen.GreyRGB, o.Marker.Seen.WhiteRGB)
	if !ok {
		return b, timeline.Say("balance.no_patch", "on", on, "phase", p.Phase), nil
	}
	return b, why, nil
}

// balanceLook is the balance of two photos that are compared.
func (s *Salon) balanceLook(ctx context.Context, first, over timeline.Photo) (out BalanceLook, err error) {
	if out.first, out.Why, err = s.balanceOf(ctx, first); err != nil || !out.Why.IsZero() {
		return out, err
	}
	out.over, out.Why, err = s.balanceOf(ctx, over)
	out.Can = err == nil && out.Why.IsZero()
	return out, err
}

func notBalanced(photo timeline.ID) error {
	return timeline.NewFault(timeline.Invalid, "fault.photo.not_balanced").At("balance " + string(photo))
}

// BalancedPicture is the view of a photo under the neutral light in which it is compared with other; it is shown nowhere
// else. Photos that cannot both be balanced are Invalid.
func (s *Salon) BalancedPicture(ctx context.Context, photo, other timeline.ID) (Picture, error) {
	p, err := s.Photo(ctx, photo)
	if err != nil {
		return Picture{}, err
	}
	q, err := s.Photo(ctx, other)
	if err != nil {
		return Picture{}, err
	}
	if p.Dog != q.Dog {
		return Picture{}, invalid("other", "fault.photo.other_dog")
	}
	look, err := s.balanceLook(ctx, p, q)
	if err != nil {
		return Picture{}, err
	}
	if !look.Can {
		return Picture{}, notBalanced(photo)
	}
	name := sha256.Sum256(fmt.Appendf(nil, "%v", look.first))
	kind := "balanced-" + hex.EncodeToString(name[:12])
	blob, err := s.st.OpenDerived(ctx, p.SHA256, kind, imaging.MakerVersion)
	if isNotFound(err) {
		var b []byte
		if b, err = s.balanced(ctx, p.SHA256, look.first); err != nil {
			return Picture{}, err
		}
		if err := s.st.PutDerived(ctx, p.SHA256, kind, imaging.MakerVersion, b); err != nil {
			return Picture{}, err
		}
		blob, err = s.st.OpenDerived(ctx, p.SHA256, kind, imaging.MakerVersion)
	}
	if err != nil {
		return Picture{}, err
	}
	return Picture{ReadSeekCloser: blob, Type: jpegType, ETag: fmt.Sprintf(`"%s-%s-%d"`, p.SHA256[:32], kind, imaging.MakerVersion)}, nil
}

func (s *Salon) balanced(ctx context.Context, sha string, b imaging.Balance) ([]byte, error) {
	if err := s.derive(ctx, sha); err != nil {
		return nil, err
	}
	release, err := s.holdPixels(ctx)
	if err != nil {
		return nil, err
	}
	defer release()
	view, err := s.decoded(ctx, sha, PictureView)
	if err != nil {
		return nil, err
	}
	b.Apply(view)
	var out bytes.Buffer
	if err := imaging.EncodeJPEG(&out, view, 85); err != nil {
		return nil, timeline.NewFault(timeline.Internal, "fault.internal").At("encode balanced " + sha).Because(err)
	}
	return out.Bytes(), nil
}

// BalancedOver is AlignedPicture under that light.
func (s *Salon) BalancedOver(ctx context.Context, photo, ref timeline.ID) (Picture, error) {
	return s.LaidPicture(ctx, photo, ref, Laid{Balanced: true})
}
