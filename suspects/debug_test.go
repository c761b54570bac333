package suspects

import (
	"fmt"
	"os"
	"sort"
	"testing"

	"phasewright/jobcard"
)

func TestDebug(t *testing.T) {
	file := os.Getenv("DBG")
	if file == "" {
		t.Skip()
	}
	data, _ := os.ReadFile(file)
	cd, _ := os.ReadFile(os.Getenv("DBGCARD"))
	card, err := jobcard.Parse("c", cd)
	if err != nil {
		t.Fatal(err)
	}
	ev, err := ReadEvidence("e", data)
	if err != nil {
		t.Fatal(err)
	}
	e, err := New(card, DefaultPriors())
	if err != nil {
		t.Fatal(err)
	}
	items, err := e.items(ev, mostLooks)
	if err != nil {
		t.Fatal(err)
	}
	w := e.weigh(items, ev.WorkedOn, ev.Engine.Misfire)
	w.fold()
	var list []*component
	for _, c := range w.alone {
		list = append(list, c)
	}
	sort.Slice(list, func(i, j int) bool { return list[i].log > list[j].log })
	for i, c := range list {
		if i > 12 && os.Getenv("DBGALL") == "" {
			break
		}
		fmt.Printf("%-30s log %.2f prior %.2f num %.2f words %.2f\n", w.title(c.in), c.log, c.before, c.num, c.log-c.before-c.num)
		v := w.look(c)
		for j := range items {
			fmt.Printf("      %-50s %-20s piece %.2f pred %.2f\n", items[j].saw, items[j].words, v.piece[j], v.predicted[j])
		}
	}
	for i := range w.comps[:min(8, len(w.comps))] {
		c := &w.comps[i]
		fmt.Printf("COMP %-40s core %-30s w %.3f prior %.2f num %.2f words %.2f\n", w.title(c.in), w.title(w.cores[c.in]), c.weight, c.before, c.num, c.log-c.before-c.num)
	}
}
