package main

import (
	"barrelbook/server"
	"barrelbook/store"
)

// The people of the demo shop, invented like everything else there.
const (
	demoOwner     = "H. Larkfield"
	demoMechanic  = "J. Tamsin"
	demoInspector = "R. Quill"
)

// addPeople adds who works in the demo shop: its owner, a mechanic, and an
// inspector who comes for a month to look at one engine.
func (d *demo) addPeople() error {
	password := store.Password{Hash: server.HashPassword(server.DemoPassword)}
	for _, p := range []store.Person{
		{Name: demoOwner, Roles: store.Owner | store.Mechanic},
		{Name: demoMechanic, Roles: store.Mechanic},
		{Name: demoInspector, Roles: store.Inspector, Until: d.ago(-30), Limited: true, Engines: []int64{d.engines[0].id}},
	} {
		if _, err := d.book.AddPerson(d.ctx, p, password); err != nil {
			return err
		}
	}
	return nil
}
