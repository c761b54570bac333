package book

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"reflect"
	"testing"
)

func listed(id, name string) Draft {
	p, _ := json.Marshal(map[string]string{"id": id, "kind": "timing light", "name": name, "u": "0.5 deg",
		"known": "certificate"})
	return Draft{Who: "Ada Reed, phone 1", Kind: KindInstrumentListed, Payload: p, Key: "key-" + name}
}

// What belongs to the shop has a chain of its own, stands in no list of jobs, and survives rebuilding, opening again,
// export and import into another book; so does what a job was measured with.
func TestShopList(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.book")
	b := openAt(t, path, Options{})
	job := newJob(t, b, "Sandpiper").Job
	for _, name := range []string{"Lamp A", "Lamp B", "Lamp A"} { // the last is sent twice
		if _, err := b.AppendShop(t.Context(), listed(name, name)); err != nil {
			t.Fatal(err)
		}
	}
	used := listed("Lamp A", "Lamp A")
	used.Kind = KindInstrumentUsed
	mustAppend(t, b, job, AnyVersion, used)
	mustBeSound(t, b)
	events, err := b.Events(t.Context(), ShopList, 0)
	if err != nil || len(events) != 3 || events[0].Kind != KindJobCreated || events[2].Kind != KindInstrumentListed {
		t.Fatalf("%d events, %v: %+v", len(events), err, events)
	}
	for _, q := range []Query{{}, {Shelf: Both}, {Text: "Lamp"}, {Text: "belongs"}} {
		page, err := b.Jobs(t.Context(), q)
		if err != nil {
			t.Fatal(err)
		}
		for _, j := range page.Jobs {
			if j.ID == ShopList {
				t.Errorf("%+v lists the shop among its jobs", q)
			}
		}
	}
	if _, err := b.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	mustBeSound(t, b)
	other := openNew(t)
	for _, id := range []string{ShopList, job} {
		var file bytes.Buffer
		if err := b.Export(t.Context(), id, &file); err != nil {
			t.Fatal(err)
		}
		if _, err := other.Import(t.Context(), bytes.NewReader(file.Bytes())); err != nil {
			t.Fatal(err)
		}
		here, _ := b.Events(t.Context(), id, 0)
		there, err := other.Events(t.Context(), id, 0)
		if err != nil || len(there) != len(here) {
			t.Fatalf("%s: %d of %d events came over, %v", id, len(there), len(here), err)
		}
		for i := range here {
			here[i].Seq, there[i].Seq = 0, 0
			if !reflect.DeepEqual(here[i], there[i]) {
				t.Errorf("%s: %+v became %+v", id, here[i], there[i])
			}
		}
	}
	mustBeSound(t, other)
	if _, err := other.AppendShop(t.Context(), listed("Lamp C", "Lamp C")); err != nil {
		t.Error("the list that came over does not go on:", err)
	}
	mustBeSound(t, other)
}
