package console

import (
	"cmp"
	"slices"

	"oddcup/session"
)

// otherLobby is a lobby that is open beside another one.
type otherLobby struct {
	ID    session.ID
	Title string
}

// openLobbies are the sessions in which people can take seats now, the oldest
// first.
func (c *Console) openLobbies() []otherLobby {
	var all []otherLobby
	for _, room := range c.Rooms.Live() {
		if s := room.State(); s.LobbyOpen {
			all = append(all, otherLobby{s.ID, head(s).Title})
		}
	}
	slices.SortFunc(all, func(a, b otherLobby) int { return cmp.Compare(a.ID, b.ID) })
	return all
}

// otherLobbies are the open ones but for that of one session.
func (c *Console) otherLobbies(id session.ID) []otherLobby {
	return slices.DeleteFunc(c.openLobbies(), func(l otherLobby) bool { return l.ID == id })
}
