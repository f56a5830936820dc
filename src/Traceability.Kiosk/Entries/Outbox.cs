using System.Text;
using Traceability.Core.Records;
using Traceability.Kiosk.Device;
using Traceability.Kiosk.People;

namespace Traceability.Kiosk.Entries;

/// <summary>The entries of this kiosk: those that are not yet safe at the service, and short lines of those that are.</summary>
public sealed class Outbox(Browser browser, ThisDevice device)
{
    /// <summary>Sealed lines kept for display.</summary>
    private const int SealedLinesKept = 20;

    private readonly SortedDictionary<long, OutboxEntry> _waiting = [];
    private readonly SortedDictionary<long, OutboxEntry> _recent = [];

    public event Action? Changed;

    /// <summary>Entries whose bytes are still kept here, oldest first.</summary>
    public IReadOnlyCollection<OutboxEntry> Kept => _waiting.Values;

    /// <summary>Every entry to show, newest first.</summary>
    public IEnumerable<OutboxEntry> All => _waiting.Values.Concat(_recent.Values).OrderByDescending(e => e.Sequence);

    /// <summary>Lines of recorded entries without bytes here.</summary>
    public IEnumerable<OutboxEntry> Recent => _recent.Values;

    public async Task LoadAsync()
    {
        Fill(_waiting, await browser.AllAsync<OutboxEntry>("outbox"));
        Fill(_recent, await browser.AllAsync<OutboxEntry>("recent"));
        Changed?.Invoke();
    }

    /// <summary>Saves a draft durably. Returns only when the browser says it is on the disk.</summary>
    public async Task<OutboxEntry> CommitAsync(Draft draft, SignedOn person, string unit, string title, int notMet)
    {
        while (true)
        {
            var sent = draft.Event;
            var entry = new OutboxEntry(draft.Follows + 1, sent.Id, sent.Source, sent.RecordId.ToString("D"), sent.ContentHash, sent.Type, unit, title,
                person.Person, sent.Time, Encoding.UTF8.GetString(sent.Canonical.Span), notMet);
            if (await browser.CommitAsync(draft.Follows, entry))
            {
                await device.RereadAsync();
                _waiting[entry.Sequence] = entry;
                Changed?.Invoke();
                return entry;
            }

            draft = draft.Following(await device.RereadAsync(), device.Clock, person);
        }
    }

    /// <summary>Entries of a unit that its dossier from the service may not hold yet, as records for judging.</summary>
    public IEnumerable<Record> RecordsOf(string unit) =>
        _waiting.Values.Where(e => e.Unit == unit && e.Text is not null && e.State is not (EntryState.Conflict or EntryState.Quarantined or EntryState.Refused))
            .Select(e => Draft.AsRecord(CloudEvent.ReadCanonical(Encoding.UTF8.GetBytes(e.Text!)), device.Identity!.DeviceId));

    public async Task SetAsync(OutboxEntry entry)
    {
        await browser.PutAsync("outbox", entry.Sequence, entry);
        _waiting[entry.Sequence] = entry;
        Changed?.Invoke();
    }

    /// <summary>Gives up the copy kept here. Only for an entry that is recorded with the same hash.</summary>
    public async Task SettleAsync(OutboxEntry entry)
    {
        if (entry.State is not (EntryState.Recorded or EntryState.Sealed)) throw new InvalidOperationException($"Entry {entry.Sequence} is not recorded; its copy stays here.");
        var line = entry with { Text = null };
        await browser.SettleAsync(line);
        _waiting.Remove(entry.Sequence);
        _recent[entry.Sequence] = line;
        Changed?.Invoke();
    }

    public async Task SealedAsync(OutboxEntry line)
    {
        _recent[line.Sequence] = line with { State = EntryState.Sealed };
        await browser.PutAsync("recent", line.Sequence, _recent[line.Sequence]);
        foreach (var old in _recent.Values.Where(e => e.State == EntryState.Sealed).OrderByDescending(e => e.Sequence).Skip(SealedLinesKept).ToList())
        {
            await browser.RemoveAsync("recent", old.Sequence);
            _recent.Remove(old.Sequence);
        }

        Changed?.Invoke();
    }

    private static void Fill(SortedDictionary<long, OutboxEntry> into, List<OutboxEntry> entries)
    {
        into.Clear();
        foreach (var entry in entries) into[entry.Sequence] = entry;
    }
}
