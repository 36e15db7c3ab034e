package salon

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"slices"
	"time"

	"thatch/timeline"
	"thatch/timeline/plan"
)

const (
	tokenBytes = 32 // 256 bits: not to be guessed, so no limit on tries is needed for secrecy
	linkDays   = 90
)

// MakeLink makes a client's page for 90 days. The token is told once and only its hash is kept. A dog whose client has not
// agreed is refused.
func (s *Salon) MakeLink(ctx context.Context, dog timeline.ID, forWhom string) (token string, l timeline.Link, err error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return "", l, err
	}
	if !d.ShareOK {
		return "", l, invalid("share_ok", "fault.link.consent", "name", d.Name)
	}
	if forWhom, err = cleanLine("for", forWhom, maxNameRunes); err != nil {
		return "", l, err
	}
	secret := make([]byte, tokenBytes)
	rand.Read(secret) // never fails: the program ends rather than go on without randomness
	token = base64.RawURLEncoding.EncodeToString(secret)
	l, err = s.st.CreateLink(ctx, timeline.Link{
		Dog: d.ID, For: forWhom, TokenHash: hashOf(token), Made: s.Now(), Expires: s.Now().Add(linkDays * 24 * time.Hour),
	})
	if err != nil {
		return "", l, err
	}
	return token, l, nil
}

// Consent is when a client agreed to pages by link and who noted it; the zero time where that is not known.
type Consent struct {
	At time.Time
	By string // "": nobody with an account
}

// NoteConsent notes that a dog's client agrees to pages by link, or no longer: then every link is dead at once.
func (s *Salon) NoteConsent(ctx context.Context, dog timeline.ID, rev timeline.Rev, agrees bool) (timeline.Dog, error) {
	if _, err := s.Dog(ctx, dog); err != nil {
		return timeline.Dog{}, err
	}
	return s.st.NoteConsent(ctx, dog, rev, agrees)
}

// ConsentOf tells when a client agreed, and by whom it was noted.
func (s *Salon) ConsentOf(ctx context.Context, d timeline.Dog) (Consent, error) {
	if !d.ShareOK {
		return Consent{}, nil
	}
	at, by, err := s.st.ConsentNoted(ctx, d.ID)
	if err == nil && at.IsZero() {
		at = d.Added
	}
	return Consent{at, by}, err
}

// Links of a dog, withdrawn and expired ones too.
func (s *Salon) Links(ctx context.Context, dog timeline.ID) ([]timeline.Link, error) {
	return s.st.Links(ctx, dog)
}

// WithdrawLink ends a client's page at once.
func (s *Salon) WithdrawLink(ctx context.Context, id timeline.ID) error {
	return s.st.WithdrawLink(ctx, id)
}

func hashOf(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// shared is the link and the dog of a token. Unknown, expired, withdrawn, the dog in the trash, the client's consent taken
// back: all the same NotFound, so that a dead link tells nothing.
func (s *Salon) shared(ctx context.Context, token string) (timeline.Link, timeline.Dog, error) {
	gone := notFound("shared page")
	if len(token) != base64.RawURLEncoding.EncodedLen(tokenBytes) {
		return timeline.Link{}, timeline.Dog{}, gone
	}
	l, err := s.st.LinkByHash(ctx, hashOf(token))
	if err != nil {
		if isNotFound(err) {
			err = gone
		}
		return timeline.Link{}, timeline.Dog{}, err
	}
	if !l.Withdrawn.IsZero() || !s.Now().Before(l.Expires) {
		return timeline.Link{}, timeline.Dog{}, gone
	}
	d, err := s.Dog(ctx, l.Dog)
	if isNotFound(err) || err == nil && !d.ShareOK {
		return timeline.Link{}, timeline.Dog{}, gone
	}
	return l, d, err
}

// SharedPage is what a client sees by link.
func (s *Salon) SharedPage(ctx context.Context, token string) (SharedPage, error) {
	l, d, err := s.shared(ctx, token)
	if err != nil {
		return SharedPage{}, err
	}
	set, err := s.Settings(ctx)
	if err != nil {
		return SharedPage{}, err
	}
	w, err := s.whole(ctx, d.ID)
	if err != nil {
		return SharedPage{}, err
	}
	out := SharedPage{
		SalonName: set.SalonName, Units: set.Units, DogName: d.Name, For: l.For, Today: w.today, Expires: l.Expires,
		Visits: []SharedVisit{},
	}
	if d.Cadence.Next >= w.today {
		out.Next = d.Cadence.Next
	}
	if v := w.nextShow(); v != nil {
		out.NextShow, out.DaysToShow = v, int(v.On-w.today)
	}
	if w.plan != nil {
		for _, o := range w.plan.Zones { // the page tells of the next show only
			switch o.Next {
			case plan.OnTrack:
				out.OnTrack++
			case plan.Tight:
				out.Tight++
			case plan.TooLate:
				out.TooLate++
			}
		}
	}
	if two := sharedPair(w.photos); two != nil {
		out.Before, out.After = &two.A, &two.B
		p, err := s.pairIn(ctx, w.history, two.A, two.B)
		if err != nil {
			return out, err
		}
		out.Aligned = p.drawn
	}
	for i := range slices.Backward(w.sessions) {
		v := w.sessions[i]
		visit := SharedVisit{On: v.On, Groups: []timeline.Group{}, Photos: []timeline.Photo{}}
		for _, g := range timeline.Groups() {
			if slices.ContainsFunc(v.Work, func(x timeline.ZoneWork) bool { return x.Zone.Group() == g && x.Do != timeline.Leave }) {
				visit.Groups = append(visit.Groups, g)
			}
		}
		for _, p := range w.photos {
			if p.Session == v.ID && p.Ready {
				visit.Photos = append(visit.Photos, p)
			}
		}
		if v.NotToday != "" && len(visit.Photos) == 0 { // why she was sent home is between the groomer and the client
			continue
		}
		out.Visits = append(out.Visits, visit)
	}
	return out, nil
}

// sharedPair is the oldest start and the newest end of one side; where no end was photographed, the newest start.
func sharedPair(photos []timeline.Photo) *PhotoPair {
	if two := pairOf(photos, ofPhase(timeline.PhaseStart), ofPhase(timeline.PhaseEnd)); two != nil {
		return two
	}
	return pairOf(photos, ofPhase(timeline.PhaseStart), ofPhase(timeline.PhaseStart))
}

// SharedPicture is a picture of that page: thumb or view, of a photo of that dog that is in one of her sessions. Anything
// else is the same NotFound.
func (s *Salon) SharedPicture(ctx context.Context, token string, photo timeline.ID, kind PictureKind) (Picture, error) {
	_, d, err := s.shared(ctx, token)
	if err != nil {
		return Picture{}, err
	}
	p, err := s.Photo(ctx, photo)
	if err != nil && !isNotFound(err) {
		return Picture{}, err
	}
	if err != nil || p.Dog != d.ID || p.Session == "" || !p.Ready || (kind != PictureThumb && kind != PictureView) {
		return Picture{}, notFound("shared picture")
	}
	return s.picture(ctx, p, kind)
}

// SharedAligned is the page's After laid over its Before.
func (s *Salon) SharedAligned(ctx context.Context, token string) (Picture, error) {
	_, d, err := s.shared(ctx, token)
	if err != nil {
		return Picture{}, err
	}
	photos, err := s.st.Photos(ctx, d.ID)
	if err != nil {
		return Picture{}, err
	}
	two := sharedPair(photos)
	if two == nil {
		return Picture{}, notFound("shared picture")
	}
	p, err := s.pairUp(ctx, two.A, two.B)
	if err != nil {
		return Picture{}, err
	}
	if !p.drawn {
		return Picture{}, notFound("shared picture")
	}
	return s.aligned(ctx, p)
}
