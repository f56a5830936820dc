using System.Text.Json;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Kiosk.Device;
using Traceability.Kiosk.Entries;

namespace Traceability.Kiosk.Bundle;

/// <summary>A unit as the service lists it for kiosks.</summary>
public sealed record ListedUnit(string Unit, string Mark, string Drawing, string Form, DateOnly PourOn);

/// <summary>
/// What the kiosk keeps to judge without the service: the list of units, the dossier of each, and the shelf: the records of lots,
/// people, instruments and forms that a unit does not name yet but an entry made here may name.
/// </summary>
public sealed class OfflineBundle(Service service, Browser browser, Outbox outbox, PlantClock clock, TimeProvider time)
{
    private const string UnitsKey = "units", ShelfKey = "shelf";

    private readonly Dictionary<string, Dossier> _read = new(StringComparer.Ordinal);
    private Dossier? _shelf;

    public IReadOnlyList<ListedUnit> Units { get; private set; } = [];

    /// <summary>When the whole bundle was last brought up to date.</summary>
    public DateTimeOffset? FreshAt { get; private set; }

    public event Action? Changed;

    public async Task LoadAsync()
    {
        var units = await browser.GetBytesAsync(UnitsKey);
        if (units.Length > 0) Units = JsonSerializer.Deserialize<List<ListedUnit>>(units, Service.Json)!;
        var shelf = await browser.GetBytesAsync(ShelfKey);
        _shelf = Read(shelf);
        FreshAt = await browser.GetAsync<DateTimeOffset?>("meta", "fresh");
    }

    /// <summary>Brings everything up to date.</summary>
    public async Task RefreshAsync()
    {
        var units = await service.GetAsync("/v1/kiosk/units");
        await browser.PutAsync("bundle", UnitsKey, units);
        Units = JsonSerializer.Deserialize<List<ListedUnit>>(units, Service.Json)!;
        await RefreshShelfAsync();
        foreach (var unit in Units) await RefreshUnitAsync(unit.Unit);
        FreshAt = time.GetUtcNow();
        await browser.PutAsync("meta", "fresh", FreshAt);
        Changed?.Invoke();
    }

    public async Task RefreshUnitAsync(string unit)
    {
        var bytes = await service.GetAsync($"/v1/units/{Uri.EscapeDataString(unit)}/dossier");
        await browser.PutAsync("bundle", DossierKey(unit), bytes);
        _read.Remove(unit);
        Changed?.Invoke();
    }

    private async Task RefreshShelfAsync()
    {
        var newer = Dossier.Read(await service.GetAsync($"/v1/kiosk/shelf?after={_shelf?.Position ?? 0}"), PlantClock.Of);
        var before = _shelf?.Records ?? [];
        var known = before.Select(r => r.Id).ToHashSet();
        _shelf = newer with { Records = [.. before, .. newer.Records.Where(r => !known.Contains(r.Id))] };
        await clock.KeepAsync(_shelf.Time);
        await browser.PutAsync("bundle", ShelfKey, _shelf.Write());
    }

    /// <summary>
    /// Everything known here of a unit: its dossier, the shelf, and the entries of this kiosk that the dossier does not hold yet.
    /// Null when the unit's dossier never reached this kiosk.
    /// </summary>
    public async Task<Dossier?> OfAsync(string unit)
    {
        if (!_read.TryGetValue(unit, out var dossier))
        {
            var bytes = await browser.GetBytesAsync(DossierKey(unit));
            if (Read(bytes) is not { } stored) return null;
            _read[unit] = dossier = stored;
        }

        var known = dossier.Records.Select(r => r.Id).ToHashSet();
        var more = (_shelf?.Records ?? []).Concat(outbox.RecordsOf(unit)).Where(r => known.Add(r.Id)).ToList();
        return dossier with { Records = [.. dossier.Records, .. more] };
    }

    /// <summary>What lies ready in the plant, as facts that count.</summary>
    public IEnumerable<T> OnShelf<T>() where T : IFact => (_shelf?.Records ?? []).Select(r => r.Fact).OfType<T>();

    // What an earlier version of this kiosk stored may not read; it comes anew with the next contact.
    private static Dossier? Read(byte[] stored)
    {
        try
        {
            return stored.Length == 0 ? null : Dossier.Read(stored, PlantClock.Of);
        }
        catch (JsonException)
        {
            return null;
        }
    }

    private static string DossierKey(string unit) => "dossier:" + unit;
}
