// Package session is the domain of a blind session: plans, layouts, blinding
// codes, seats, locked answers and what they show.
//
// A session is the fold of an append-only journal:
//
//	State.Decide(Command) ([]Event, error)   pure; every rule is here
//	State.Apply(Recorded)                    pure; no rule, no error
//	Journal.Append(id, []Entry, []Text)      durable before anyone hears of it
//
// A [Room] owns one live journal. It decides each command on a private working
// state, appends the batch, and only then publishes the new state and answers.
// The laboratory's own register (lots, releases for tasting) is a journal of
// the same make, folded by [Lab].
//
// The serving key (which cup holds which lot) is an unexported part of State.
// It leaves only through [State.PourSheet], for the pourer, and [State.Key],
// which refuses before the reveal.
//
// The package has no clock, no disk and no source of chance of its own: times
// come with commands, layouts are drawn from a seed by [Draw], and journals are
// behind the [Journal] interface.
package session
