package demo

import (
	"context"

	"thatch/server/salon"
	"thatch/timeline"
)

// Puppy is the dog of the invented salon that is not in the story of coats: she learns to stand on the table, and has no photos.
const Puppy = "Nettle"

// noted is what was done with the dogs of the cast besides their coats, as days before today: nails of the first are due, and
// eyes of all that come today.
var noted = [][]struct {
	what timeline.Care
	ago  int
}{
	{{timeline.CareNails, 30}, {timeline.CarePads, 42}, {timeline.CareEyes, 14}, {timeline.CareEars, 14}},
	{{timeline.CareNails, 14}, {timeline.CarePads, 14}, {timeline.CareEyes, 14}, {timeline.CareEars, 25}},
	{{timeline.CareNails, 41}, {timeline.CarePads, 13}, {timeline.CareEyes, 13}, {timeline.CareEars, 13}},
}

// care notes what was looked after, packs for the third dog's show, sets a limit for the hands, and brings the puppy.
func (b *builder) care(ctx context.Context) error {
	for i, lines := range noted {
		for _, l := range lines {
			if err := b.s.NoteCareOn(ctx, b.dogs[i], l.what.What(), b.today-timeline.Day(l.ago)); err != nil {
				return err
			}
		}
	}
	shows, err := b.s.Shows(ctx, b.dogs[2])
	if err != nil {
		return err
	}
	for _, item := range []timeline.BagItem{"papers", "lead"} {
		if err := b.s.TickBag(ctx, shows[0].ID, item, true); err != nil {
			return err
		}
	}
	if err := b.s.SetHandsLimit(ctx, 5*60); err != nil {
		return err
	}
	return b.puppy(ctx)
}

func (b *builder) puppy(ctx context.Context) error {
	dog, err := b.s.CreateDog(ctx, salon.NewDog{
		Name: Puppy, Client: "The Orchard Cottage", Texture: timeline.TextureMedium, WithersMM: 235, Born: b.today - 139, Next: b.today + 3, EveryDays: 7, Minutes: 15,
		Answers: timeline.Answers{On: b.today - 31, Undercoat: timeline.UndercoatSome, LongestWithersMM: 22},
		Notes:   "Bold, and bored after five minutes. Stop before that.",
	})
	if err != nil {
		return err
	}
	for _, v := range []struct {
		ago, minutes int
		note         string
	}{{24, 10, "Up and down four times, cheese at the top."}, {17, 12, "Stood for a minute. Feet another day."}} {
		session, err := b.s.OpenSession(ctx, dog.ID, b.today-timeline.Day(v.ago))
		if err != nil {
			return err
		}
		if _, err := b.s.SaveSession(ctx, salon.SessionEdit{ID: session.ID, Rev: session.Rev, Minutes: v.minutes, Note: v.note}); err != nil {
			return err
		}
	}
	lessons := timeline.Lessons()
	for i, ago := range []int{24, 17} {
		if err := b.s.NoteCareOn(ctx, dog.ID, lessons[i].What(), b.today-timeline.Day(ago)); err != nil {
			return err
		}
	}
	return b.s.NoteCareOn(ctx, dog.ID, timeline.CareEyes.What(), b.today-17)
}
