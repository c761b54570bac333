package book

import "context"

// ShopList is the id of the chapter that holds what belongs to the shop and to no job: its instruments. To chains,
// exports, checks and older releases it is a job like any other; the job list leaves it out.
const ShopList = "theshopsownlists"

// shopListName is what the chapter is called where it is shown.
const shopListName = "What belongs to the shop"

// AppendShop records an event of the shop itself. The first one begins the chapter ShopList.
//
// Errors are those of Append.
func (b *Book) AppendShop(ctx context.Context, d Draft) (Event, error) {
	first, err := settled(Draft{Who: d.Who, Kind: KindJobCreated, Payload: []byte(`{"name":"` + shopListName + `"}`),
		At: d.At})
	if err != nil {
		return Event{}, err
	}
	e, err := b.settledAfter("the shop", d)
	if err != nil {
		return Event{}, err
	}
	e.Job = ShopList
	var made []Event
	err = b.do(ctx, func(ctx context.Context, w *writer) ([]Change, error) {
		have, err := w.head(ctx, ShopList)
		if err != nil {
			return nil, err
		}
		if have == 0 {
			first.Job, first.Version, first.At = ShopList, 1, b.now(first.At)
			first.Hash = HashEvent(first)
			if _, err := w.insert(ctx, []*Event{&first}); err != nil {
				return nil, err
			}
		}
		var changes []Change
		made, changes, err = w.append(ctx, AnyVersion, []Event{e})
		return changes, err
	})
	if err != nil {
		return Event{}, err
	}
	return made[0], nil
}
