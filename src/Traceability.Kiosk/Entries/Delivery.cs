using System.Net;
using System.Text;
using System.Text.Json;
using Microsoft.JSInterop;
using Traceability.Core.Records;
using Traceability.Kiosk.Bundle;
using Traceability.Kiosk.Device;
using Traceability.Kiosk.People;

namespace Traceability.Kiosk.Entries;

/// <summary>
/// Carries entries to the service in the background, for ever: asks the service the time, sends what waits in the order it was made,
/// asks what became of what was sent, and brings the offline bundle up to date. Sending twice is harmless: the ids stay the same.
/// </summary>
public sealed class Delivery(Service service, Browser browser, ThisDevice device, Outbox outbox, OfflineBundle bundle, Session session, TimeProvider time)
{
    private const int MostPerBatch = 50;

    private static readonly TimeSpan Busy = TimeSpan.FromSeconds(1), Quiet = TimeSpan.FromSeconds(15), LongestWait = TimeSpan.FromSeconds(60);

    /// <summary>After this an entry the service once received and never mentions again is sent once more.</summary>
    private static readonly TimeSpan SendAgainAfter = TimeSpan.FromSeconds(30);

    private static readonly TimeSpan BundleAge = TimeSpan.FromMinutes(3);

    private readonly Dictionary<long, DateTimeOffset> _sentAt = [];
    private TaskCompletionSource _hint = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private bool _mine;

    /// <summary>Whether the service answered at the last try; null before the first.</summary>
    public bool? Reached { get; private set; }

    public DateTimeOffset? ReachedAt { get; private set; }

    /// <summary>Why entries wait although the service answers; null when they do not.</summary>
    public string? Problem { get; private set; }

    /// <summary>Whether a new version of this app waits to be taken over.</summary>
    public bool NewVersionWaits { get; private set; }

    public event Action? Changed;

    // How long the service asked to wait at the last round; null when it asked for nothing.
    private TimeSpan? _asked;

    /// <summary>It may be worth trying now.</summary>
    [JSInvokable]
    public void Hint() => _hint.TrySetResult();

    [JSInvokable]
    public void Idle() => session.Lock();

    [JSInvokable]
    public void NewVersion()
    {
        NewVersionWaits = true;
        Changed?.Invoke();
    }

    public async Task RunAsync()
    {
        await browser.ListenAsync(DotNetObjectReference.Create(this));
        var failures = 0;
        while (true)
        {
            var wait = Quiet;
            if (await RoundAsync())
            {
                failures = 0;
                if (outbox.Kept.Any(e => !e.NeedsAction) || outbox.Recent.Any(e => e.State == EntryState.Recorded)) wait = Busy;
            }
            else
            {
                failures++;
                var seconds = Math.Min(LongestWait.TotalSeconds, Math.Pow(2, Math.Min(failures, 10)));
                // Kiosks that lost the service together must not come back together.
                wait = TimeSpan.FromSeconds(seconds * (0.5 + Random.Shared.NextDouble() / 2));
            }

            Changed?.Invoke();
            // A new entry sends at once, unless the service asked to wait. Whoever answers in between may ask for a day: nobody waits so long here.
            if (_asked is { } asked) await Task.Delay(asked > LongestWait ? LongestWait : asked > wait ? asked : wait, time);
            else await Task.WhenAny(Task.Delay(wait, time), _hint.Task);
            _hint = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        }
    }

    private async Task<bool> RoundAsync()
    {
        _asked = null;
        try
        {
            await service.ProbeAsync();
            var anew = Reached != true;
            if (Reached != true || ReachedAt is null)
            {
                Reached = true;
                Changed?.Invoke();
            }

            ReachedAt = time.GetUtcNow();
            if (device.Identity is null) return true;
            await ForgetWhoLeftAsync(anew);
            _mine = _mine || await browser.HoldDeliveryAsync();
            if (!_mine)
            {
                // Another tab delivers; show what it did.
                await outbox.LoadAsync();
                return true;
            }

            await SendAsync();
            await AskAsync();
            await SettleAsync();
            if (bundle.FreshAt is not { } fresh || time.GetUtcNow() - fresh > BundleAge) await bundle.RefreshAsync();
            Problem = null;
            return true;
        }
        catch (ServiceRefusedException e)
        {
            Problem = e.Message;
            _asked = e.RetryAfter;
            return false;
        }
        catch (Exception e) when (e is HttpRequestException or TaskCanceledException or JsonException)
        {
            Reached = false;
            return false;
        }
#pragma warning disable CA1031 // Whatever it was, the entries wait and the next round tries again; a delivery that ended silently would strand them.
        catch (Exception e)
#pragma warning restore CA1031
        {
            Problem = e.Message;
            return false;
        }
    }

    // What is recorded here is sent whatever comes of that question; it is asked again at the next round.
    private async Task ForgetWhoLeftAsync(bool anew)
    {
        try
        {
            await session.ForgetWhoLeftAsync(anew);
        }
        catch (Exception e) when (e is ServiceRefusedException or JsonException or JSException)
        {
            Problem = e.Message;
        }
    }

    private async Task SendAsync()
    {
        var now = time.GetUtcNow();
        foreach (var batch in outbox.Kept.Where(e => e.Waits).ToList().Chunk(MostPerBatch)) await SendBatchAsync(batch, now);
    }

    private async Task SendBatchAsync(OutboxEntry[] batch, DateTimeOffset now)
    {
        try
        {
            // The canonical bytes go out as they are, so that what is hashed, signed, sent and recorded is one and the same; the signature stands in front, and is no part of them.
            var signatures = await service.SignFactsAsync([.. batch.Select(e => e.ContentHash)]);
            var body = Encoding.UTF8.GetBytes("[" + string.Join(',', batch.Select((e, i) => $"{{\"{DeviceSignature.Attribute}\":\"{signatures[i]}\",{e.Text![1..]}")) + "]");
            var answer = await service.PostBytesAsync("/v1/facts", body, "application/cloudevents-batch+json");
            foreach (var entry in batch) _sentAt[entry.Sequence] = now;
            await ApplyAsync(answer);
        }
        catch (ServiceRefusedException e) when (!e.MayPassLater)
        {
            // One of them is the reason. Alone each gets its own answer and none holds up the others.
            if (batch.Length > 1)
            {
                foreach (var entry in batch) await SendBatchAsync([entry], now);
                return;
            }

            await outbox.SetAsync(batch[0] with { State = e.Status == HttpStatusCode.Conflict ? EntryState.Conflict : EntryState.Refused, Problem = e.Message });
        }
    }

    private async Task AskAsync()
    {
        var open = outbox.Kept.Where(e => e.State is EntryState.Received or EntryState.Quarantined or EntryState.Parked)
            .Concat(outbox.Recent.Where(e => e.State == EntryState.Recorded)).ToList();
        foreach (var batch in open.Chunk(200))
        {
            var body = JsonSerializer.SerializeToUtf8Bytes(batch.Select(e => new { source = e.Source, id = e.Id }), Service.Json);
            var known = await ApplyAsync(await service.PostBytesAsync("/v1/receipts", body, "application/json"));
            var now = time.GetUtcNow();
            foreach (var entry in batch.Where(e => e.State == EntryState.Received && !known.Contains(e.Sequence)))
            {
                if (!_sentAt.TryGetValue(entry.Sequence, out var sent) || now - sent > SendAgainAfter) await outbox.SetAsync(entry with { State = EntryState.SavedHere });
            }
        }
    }

    private async Task<HashSet<long>> ApplyAsync(byte[] receipts)
    {
        var known = new HashSet<long>();
        foreach (var receipt in JsonSerializer.Deserialize<List<Receipt>>(receipts, Service.Json)!)
        {
            if (outbox.Kept.FirstOrDefault(e => e.Id == receipt.Id && e.Source == receipt.Source) is { } kept)
            {
                var next = Next(kept, receipt);
                if (next is null) continue;
                known.Add(kept.Sequence);
                if (next != kept) await outbox.SetAsync(next);
            }
            else if (receipt.Sealed == true && outbox.Recent.FirstOrDefault(e => e.Id == receipt.Id && e.Source == receipt.Source && e.State == EntryState.Recorded) is { } line)
            {
                await outbox.SealedAsync(line);
            }
        }

        return known;
    }

    private static OutboxEntry? Next(OutboxEntry entry, Receipt receipt)
    {
        var problem = receipt.Problem is { } p ? Service.TextOf(p) : null;
        switch (receipt.Status)
        {
            case "recorded" or "duplicate" when receipt.ContentHash != entry.ContentHash:
                return entry with { State = EntryState.Conflict, Problem = problem ?? $"Recorded under this id: content hash {receipt.ContentHash}." };
            case "recorded":
                return entry with { State = EntryState.Recorded, Position = receipt.Position, Problem = null };
            case "duplicate":
                // It was sent before. With a position it is in the log; without one it is still on its way there.
                return entry with { State = receipt.Position is null ? EntryState.Received : EntryState.Recorded, Position = receipt.Position, Problem = null };
            case "received":
                return entry with { State = EntryState.Received, Problem = null };
            case "conflict":
                return entry with { State = EntryState.Conflict, Problem = problem };
            case "quarantined":
                return entry with { State = EntryState.Quarantined, Problem = problem };
            case "parked":
                return entry with { State = EntryState.Parked, Problem = problem };
            case "refused":
                return entry with { State = EntryState.Refused, Problem = problem };
            default:
                return null;
        }
    }

    // The copy here goes only when the unit's dossier on this kiosk holds the record too, so that judging here never forgets it.
    private async Task SettleAsync()
    {
        var recorded = outbox.Kept.Where(e => e.State == EntryState.Recorded).ToList();
        foreach (var unit in recorded.GroupBy(e => e.Unit))
        {
            await bundle.RefreshUnitAsync(unit.Key);
            foreach (var entry in unit) await outbox.SettleAsync(entry);
        }
    }

    private sealed record Receipt(string? Id, string? Source, string Status, string? ContentHash = null, long? Position = null, bool? Sealed = null, JsonElement? Problem = null);
}
