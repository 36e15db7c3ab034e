package main

import (
	"context"
	"fmt"
	"strings"

	"thatch/server/salon"
	"thatch/timeline"
)

// ownerCmd lets an owner in who forgot her password: whoever can run it on the data folder owns the machine anyway. The
// code reaches a running server as a hash in the data folder.
type ownerCmd struct {
	dataFlag
}

func (c *ownerCmd) Run(ctx context.Context, s streams) error {
	st, sal, err := c.open(ctx, true)
	if err != nil {
		return err
	}
	defer st.Close()
	people, err := sal.People(ctx)
	if err != nil {
		return err
	}
	code, err := sal.MakeOwnerCode(byCommand(ctx), salon.FreshCodeHolds)
	if err != nil {
		return err
	}
	var owners []string
	for _, p := range people {
		if p.Role == timeline.Owner && p.Ended.IsZero() {
			owners = append(owners, p.Name)
		}
	}
	if len(owners) == 0 {
		fmt.Fprintln(s.out, s.say.T("cmd.owner.first"))
	} else {
		fmt.Fprintln(s.out, s.say.T("cmd.owner.password", "names", strings.Join(owners, ", ")))
	}
	fmt.Fprintln(s.out, code)
	return nil
}

// ownersCode prints a fresh one-time code while nobody has an account.
func (s streams) ownersCode(ctx context.Context, sal *salon.Salon, url string) error {
	any, err := sal.AnyPerson(ctx)
	if err != nil || any {
		return err
	}
	code, err := sal.MakeOwnerCode(ctx, salon.OwnerCodeHolds)
	if err != nil {
		return err
	}
	fmt.Fprintln(s.out, s.say.T("cmd.owner.code", "url", url+"/owner"))
	fmt.Fprintln(s.out, code)
	return nil
}

// byCommand names the command line as who asks, for the log of changes.
func byCommand(ctx context.Context) context.Context {
	return timeline.WithVisitor(ctx, salon.CommandLine)
}
