package salon

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"thatch/timeline"
	"thatch/timeline/coat"
)

// CreateDog starts a dog from its name and four answers.
func (s *Salon) CreateDog(ctx context.Context, n NewDog) (timeline.Dog, error) {
	today, err := s.Today(ctx)
	if err != nil {
		return timeline.Dog{}, err
	}
	d := timeline.Dog{
		Name: n.Name, Client: n.Client, Profile: n.Profile, Texture: n.Texture, WithersMM: n.WithersMM,
		Answers: n.Answers, History: n.History, Sensitive: n.Sensitive, Notes: n.Notes, ShareOK: n.ShareOK, Born: n.Born,
		Cadence: timeline.Cadence{Next: n.Next, EveryDays: n.EveryDays, Minutes: n.Minutes},
	}
	if d.Profile == "" {
		d.Profile = coat.DefaultProfile
	}
	if d.Texture == "" {
		d.Texture = timeline.TextureHarsh
	}
	if d.Answers.On.IsZero() {
		d.Answers.On = today
	}
	if d.Answers.Undercoat == "" {
		d.Answers.Undercoat = timeline.UndercoatSome
	}
	if d.Cadence.EveryDays == 0 {
		d.Cadence.EveryDays = defaultEvery
	}
	if d.Cadence.Minutes == 0 {
		d.Cadence.Minutes = defaultMinutes
	}
	if d.WithersMM > 0 {
		d.WithersOn = d.Answers.On
	}
	if err := checkDog(&d, today); err != nil {
		return timeline.Dog{}, err
	}
	if _, _, err := s.profileOf(ctx, d.Profile); err != nil {
		return timeline.Dog{}, err
	}
	if err := checkNext(d.Cadence.Next, today); err != nil {
		return timeline.Dog{}, err
	}
	return s.st.CreateDog(ctx, d)
}

// UpdateDog replaces everything that people edit of a dog; Rev is checked.
func (s *Salon) UpdateDog(ctx context.Context, d timeline.Dog) (timeline.Dog, error) {
	old, err := s.Dog(ctx, d.ID)
	if err != nil {
		return d, err
	}
	today, err := s.Today(ctx)
	if err != nil {
		return d, err
	}
	if err := checkDog(&d, today); err != nil {
		return d, err
	}
	if _, _, err := s.profileOf(ctx, d.Profile); err != nil {
		return d, err
	}
	// A booking that has gone by meanwhile must not keep a person from mending the name.
	if d.Cadence.Next != old.Cadence.Next {
		if err := checkNext(d.Cadence.Next, today); err != nil {
			return d, err
		}
		d.Cadence.Days = comesOn(d.Cadence.Days, d.Cadence.Next)
	}
	if d.WithersMM != old.WithersMM {
		d.WithersOn = today
	}
	d.Added = old.Added
	return s.st.UpdateDog(ctx, d)
}

// comesOn is the exceptions of a rhythm without one that skips the day: who books it means that she comes.
func comesOn(days []timeline.BookedDay, on timeline.Day) []timeline.BookedDay {
	return slices.DeleteFunc(slices.Clone(days), func(b timeline.BookedDay) bool { return b.On == on && b.Skip })
}

// BookNext sets the dog's next booked day; the zero Day: none. Rev is checked.
func (s *Salon) BookNext(ctx context.Context, dog timeline.ID, rev timeline.Rev, on timeline.Day) (timeline.Dog, error) {
	d, err := s.Dog(ctx, dog)
	if err != nil {
		return d, err
	}
	d.Rev, d.Cadence.Next = rev, on
	return s.UpdateDog(ctx, d)
}

// Dog is a dog that is not in the trash.
func (s *Salon) Dog(ctx context.Context, id timeline.ID) (timeline.Dog, error) {
	d, err := s.st.Dog(ctx, id)
	if err == nil && !d.Trashed.IsZero() {
		return timeline.Dog{}, notFound("dog " + string(id))
	}
	return d, err
}

// Dogs are the dogs not in the trash, by name.
func (s *Salon) Dogs(ctx context.Context) ([]timeline.Dog, error) {
	dogs, err := s.st.Dogs(ctx, false)
	slices.SortStableFunc(dogs, func(a, b timeline.Dog) int {
		return strings.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name))
	})
	return dogs, err
}

// FindDog finds a dog by its name (upper and lower case alike) or its ID. A dog that is not there is NotFound and said by
// name.
func (s *Salon) FindDog(ctx context.Context, name string) (timeline.Dog, error) {
	name = strings.TrimSpace(name)
	if name == "" {
		return timeline.Dog{}, invalid("dog", "fault.dog.name_empty")
	}
	d, err := s.st.DogByName(ctx, name)
	if isNotFound(err) {
		if d, err = s.Dog(ctx, timeline.ID(name)); isNotFound(err) {
			return timeline.Dog{}, timeline.NewFault(timeline.NotFound, "fault.dog.unknown", "name", clip(name, maxNameRunes)).In("dog").Because(err)
		}
	}
	return d, err
}

// TrashDog puts the dog and with it everything of the dog aside.
func (s *Salon) TrashDog(ctx context.Context, id timeline.ID) error { return s.st.TrashDog(ctx, id) }

// RestoreDog brings it back.
func (s *Salon) RestoreDog(ctx context.Context, id timeline.ID) error {
	return s.st.RestoreDog(ctx, id)
}

// CheckDogName refuses what cannot be a dog's name; it needs no salon, so that none is made for nothing.
func CheckDogName(name string) error {
	_, err := cleanDogName(name)
	return err
}

func cleanDogName(name string) (string, error) {
	name, err := cleanLine("name", name, maxNameRunes)
	if err == nil && name == "" {
		err = invalid("name", "fault.dog.name_empty")
	}
	return name, err
}

func checkDog(d *timeline.Dog, today timeline.Day) error {
	var err error
	if d.Name, err = cleanDogName(d.Name); err != nil {
		return err
	}
	if d.Client, err = cleanLine("client", d.Client, maxNameRunes); err != nil {
		return err
	}
	if d.Notes, err = cleanText("notes", d.Notes, maxNoteRunes); err != nil {
		return err
	}
	if err := checkWord("texture", d.Texture, timeline.Textures()); err != nil {
		return err
	}
	if d.WithersMM != 0 {
		if err := checkBetween("withers_mm", "fault.dog.withers", d.WithersMM, minWithersMM, maxWithersMM); err != nil {
			return err
		}
	}
	if err := checkBorn(d.Born, today); err != nil {
		return err
	}
	if err := checkAnswers(d.Answers, today); err != nil {
		return err
	}
	if err := checkPinched(d, today); err != nil {
		return err
	}
	for i, z := range d.Sensitive {
		if err := checkZone(fmt.Sprintf("sensitive[%d]", i), z); err != nil {
			return err
		}
	}
	d.Sensitive = inOrder(d.Sensitive)
	if d.Cadence.EveryDays < 1 || d.Cadence.EveryDays > maxEveryDays {
		return invalid("every_days", "fault.dog.every_days", "max", maxEveryDays)
	}
	if d.Cadence.Minutes < 5 || d.Cadence.Minutes > maxMinutes {
		return invalid("minutes", "fault.dog.minutes", "min", 5, "max", maxMinutes)
	}
	return nil
}

// maxDogDays: no dog is older than thirty.
const maxDogDays = 30 * 366

func checkBorn(born, today timeline.Day) error {
	switch {
	case born > today:
		return invalid("born", "fault.day.future", "on", born, "today", today)
	case !born.IsZero() && born < today-maxDogDays:
		return invalid("born", "fault.dog.born", "on", born)
	}
	return nil
}

func checkAnswers(a timeline.Answers, today timeline.Day) error {
	if a.On.IsZero() {
		return invalid("answers.on", "fault.dog.answers_day")
	}
	if a.On > today {
		return invalid("answers.on", "fault.day.future", "on", a.On, "today", today)
	}
	if !a.LastWorked.IsZero() && a.LastWorked > a.On {
		return invalid("answers.last_worked", "fault.dog.last_worked", "on", a.LastWorked, "answered", a.On)
	}
	if err := checkWord("answers.undercoat", a.Undercoat, timeline.Undercoats()); err != nil {
		return err
	}
	if a.LongestWithersMM != 0 {
		return checkBetween("answers.longest_withers_mm", "fault.length_range", a.LongestWithersMM, 1, maxLengthMM)
	}
	return nil
}

func checkPinched(d *timeline.Dog, today timeline.Day) error {
	t := d.Pinched
	if t == nil {
		return nil
	}
	if t.On > today {
		return invalid("pinched.on", "fault.day.future", "on", t.On, "today", today)
	}
	for _, g := range slices.Sorted(maps.Keys(t.Is)) {
		if err := checkWord("pinched."+string(g), g, timeline.Groups()); err != nil {
			return err
		}
		if err := checkWord("pinched."+string(g), t.Is[g], timeline.Ripenesses()); err != nil {
			return err
		}
	}
	if len(t.Is) == 0 {
		d.Pinched = nil
	}
	return nil
}

func checkNext(next, today timeline.Day) error {
	if next.IsZero() || (next >= today && int(next-today) <= maxShowDaysAway) {
		return nil
	}
	return invalid("next", "fault.dog.next_past", "on", next, "today", today)
}
