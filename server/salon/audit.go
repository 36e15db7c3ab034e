package salon

import (
	"context"

	"thatch/store"
	"thatch/timeline"
)

// changesAPage is how many lines of the log of changes one page shows.
const changesAPage = 50

// ChangesOf chooses lines of the log of changes.
type ChangesOf struct {
	Before int64       // number of the last line of the page before; 0: from the newest
	Person timeline.ID // "": of all
	Key    timeline.ID // of one thing; "": of all
	Of     string      // "dogs", "people" or "": of both
}

// ChangeLine is a line with what its key names.
type ChangeLine struct {
	timeline.Change
	Label string          // the thing as people know it: a dog's name, a show's
	On    timeline.Day    // the day of a session, a photo, a check; 0: none
	Zone  timeline.Zone   // of a reading
	Dog   timeline.ID     // whose thing it is; "": nobody's
	Gone  bool            // in the trash, ended, or not there any more
	Role  timeline.Role   // what Note says, where it is a role
	Known timeline.Phrase // who, where it is not a person with an account
}

// ChangesPage is one page of the log of changes, newest first.
type ChangesPage struct {
	Lines []ChangeLine
	More  int64 // Before of the next page; 0: this is the last
}

var peopleKinds = []string{"person", "invitation", "settings", "link"}

// Changes lists who changed what.
func (s *Salon) Changes(ctx context.Context, of ChangesOf) (ChangesPage, error) {
	q := store.ChangesOf{Before: of.Before, Person: of.Person, Key: of.Key, Limit: changesAPage + 1}
	switch of.Of {
	case "":
	case "people":
		q.Kinds = peopleKinds
	case "dogs":
		q.Kinds = []string{"dog", "session", "show", "profile", "reading", "check", "photo", "heap", "original"}
	default:
		return ChangesPage{}, invalid("of", "fault.word", "text", clip(of.Of, 40), "answers", []string{"dogs", "people"})
	}
	rows, err := s.st.Changes(ctx, q)
	if err != nil {
		return ChangesPage{}, err
	}
	out := ChangesPage{Lines: []ChangeLine{}}
	if len(rows) > changesAPage {
		rows = rows[:changesAPage]
		out.More = rows[changesAPage-1].Number
	}
	names := map[timeline.ID]ChangeLine{}
	for _, c := range rows {
		l, seen := names[c.Key]
		if !seen || l.Kind != c.Kind {
			if l, err = s.labelled(ctx, c); err != nil {
				return ChangesPage{}, err
			}
			names[c.Key] = l
		}
		l.Change = c
		if r := timeline.Role(c.Note); r.Valid() {
			l.Role = r
		}
		l.Known = whoElse(c)
		out.Lines = append(out.Lines, l)
	}
	return out, nil
}

// CommandLine is who changes data by a command.
var CommandLine = timeline.Visitor{Name: "command line", Role: timeline.Owner}

func whoElse(c timeline.Change) timeline.Phrase {
	switch {
	case c.Person != "":
		return timeline.Phrase{}
	case c.Name == CommandLine.Name:
		return timeline.Say("changes.who.command")
	case c.Op == "wrong passwords for":
		return timeline.Say("changes.who.stranger")
	}
	return timeline.Say("changes.who.nobody")
}

// labelled looks up what a key names today.
func (s *Salon) labelled(ctx context.Context, c timeline.Change) (l ChangeLine, err error) {
	l.Kind = c.Kind
	dog := timeline.ID("")
	switch c.Kind {
	case "dog":
		dog = c.Key
	case "session":
		v, e := s.st.Session(ctx, c.Key)
		dog, l.On, l.Gone, err = v.Dog, v.On, !v.Trashed.IsZero(), e
	case "photo":
		v, e := s.st.Photo(ctx, c.Key)
		dog, l.On, l.Gone, err = v.Dog, v.Moment.Day(), !v.Trashed.IsZero(), e
	case "show":
		v, e := s.st.Show(ctx, c.Key)
		dog, l.Label, l.On, l.Gone, err = v.Dog, v.Name, v.On, !v.Trashed.IsZero(), e
	case "reading":
		v, e := s.st.Reading(ctx, c.Key)
		dog, l.Zone, l.On, l.Gone, err = v.Dog, v.Zone, v.On, !v.Trashed.IsZero(), e
	case "check":
		v, e := s.st.Check(ctx, c.Key)
		dog, l.On, l.Gone, err = v.Dog, v.On, !v.Trashed.IsZero(), e
	case "profile":
		v, e := s.st.Profile(ctx, c.Key)
		l.Label, l.Gone, err = v.Name, !v.Trashed.IsZero(), e
	case "heap":
		v, e := s.st.InHeap(ctx, c.Key)
		l.Label, l.Gone, err = v.File, !v.Trashed.IsZero(), e
	case "link":
		v, e := s.st.Link(ctx, c.Key)
		dog, err = v.Dog, e
	case "person":
		v, e := s.st.Person(ctx, c.Key)
		l.Label, l.Gone, err = v.Name, !v.Ended.IsZero(), e
	case "invitation":
		v, e := s.st.Invitation(ctx, c.Key)
		l.Label, l.Gone, err = v.For, !v.Used.IsZero() || !v.Withdrawn.IsZero(), e
	}
	if err == nil && dog != "" {
		var d timeline.Dog
		d, err = s.st.Dog(ctx, dog)
		l.Dog = d.ID
		l.Gone = l.Gone || !d.Trashed.IsZero()
		if l.Label == "" {
			l.Label = d.Name
		} else {
			l.Label += " (" + d.Name + ")"
		}
	}
	if isNotFound(err) {
		l.Gone, err = true, nil
	}
	return l, err
}
