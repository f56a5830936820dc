using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Linking;
using Traceability.Service.Units;

namespace Traceability.Service.Replay;

/// <summary>What changed for one unit between two moments of the store.</summary>
/// <param name="Records">Records that bear on it and were recorded after the first moment, up to the second.</param>
public sealed record UnitChanges(string Unit, IReadOnlyList<Record> Records, JudgementText Before, JudgementText After, JudgementChanges Changes);

/// <summary>What changed in the plant between two moments.</summary>
/// <param name="Records">How many records came in.</param>
/// <param name="Units">The units on which one of them bears, with what changed.</param>
/// <param name="More">Whether there are more units than are listed.</param>
public sealed record PlantChanges(AsKnown From, AsKnown To, long Records, IReadOnlyList<UnitChanges> Units, bool More);

/// <summary>A pour and the units it went into, as known at a moment.</summary>
public sealed record PourThen(string Pour, AsKnown AsKnown, IReadOnlyList<Record> Records, IReadOnlyList<UnitNow> Units);

/// <summary>A decision: what was judged when it was made, and the same records under today's rules.</summary>
/// <param name="Stored">The judgement kept with the decision; null when it is not in this store, as after an import.</param>
/// <param name="Today">The records of then at the moment of then, under today's rules.</param>
public sealed record DecisionThen(Record Decision, string Unit, DecisionBasis Basis, JudgementText? Stored, JudgementText Today, JudgementChanges? Changes);

/// <summary>Judges what was known at other moments, on the records themselves.</summary>
public sealed class ReplayReader(NpgsqlDataSource source, DossierStore dossiers, UnitReader units, TimeProvider clock)
{
    /// <summary>Units compared at most for the whole plant. Our own choice.</summary>
    public const int MostUnits = 200;

    /// <summary>Null when no record bears on the unit by the second moment.</summary>
    public async Task<UnitChanges?> UnitAsync(Subject unit, AsKnown from, AsKnown to, CancellationToken cancel)
    {
        var after = await units.ReadAsync(unit, to, cancel);
        if (after.Dossier.Records.Count == 0) return null;
        var before = await units.ReadAsync(unit, from, cancel);
        var (then, now) = (JudgementText.Of(before.Judgement), JudgementText.Of(after.Judgement));
        var counted = after.File.Entries.SelectMany(e => new[] { e.Original, e.Source }).Concat(after.File.SetAside.Select(s => s.Record)).Select(r => r.Position).ToHashSet();
        return new(unit.Id, [.. after.Dossier.Records.Where(r => r.Position > from.Position && (counted.Contains(r.Position) || r.Fact is RecordWithdrawn))], then, now, JudgementChanges.Between(then, now));
    }

    /// <summary>Units on which no record of that time bears can have changed by the clock alone; they are not compared.</summary>
    public async Task<PlantChanges> PlantAsync(AsKnown from, AsKnown to, CancellationToken cancel)
    {
        const string Touched = """
            with recursive up(subject) as (
                select distinct subject from trace.about where position > $1 and position <= $2
                union
                select l.from_subject from up join trace.link l on l.to_subject = up.subject
            )
            select substr(subject, 6) from up where subject like 'unit:%' order by 1 limit $3
            """;
        var touched = new List<string>();
        long count;
        await using (var connection = await source.OpenConnectionAsync(cancel))
        {
            await using (var records = new NpgsqlCommand("select count(*) from trace.record where position > $1 and position <= $2", connection) { Parameters = { new() { Value = from.Position }, new() { Value = to.Position } } })
                count = (long)(await records.ExecuteScalarAsync(cancel))!;
            await using var command = new NpgsqlCommand(Touched, connection) { Parameters = { new() { Value = from.Position }, new() { Value = to.Position }, new() { Value = MostUnits + 1 } } };
            await using var row = await command.ExecuteReaderAsync(cancel);
            while (await row.ReadAsync(cancel)) touched.Add(row.GetString(0));
        }

        var changes = new List<UnitChanges>();
        foreach (var unit in touched.Take(MostUnits))
        {
            if (await UnitAsync(Subject.Unit(unit), from, to, cancel) is { } of && (of.Records.Count > 0 || !of.Changes.None)) changes.Add(of);
        }

        return new(from, to, count, changes, touched.Count > MostUnits);
    }

    /// <summary>Null when no record is about the pour by then.</summary>
    public async Task<PourThen?> PourAsync(Subject pour, AsKnown? asKnown, CancellationToken cancel)
    {
        asKnown ??= await NowAsync(cancel);
        var dossier = await dossiers.LoadAsync(pour, asKnown.Position, cancel);
        var file = Assemble.Unit(dossier);
        var own = file.Entries.Where(e => e.Links.Any(l => l.Kind == LinkKind.About && l.From == pour)).ToList();
        if (own.Count == 0) return null;
        var poured = new List<UnitNow>();
        foreach (var unit in own.SelectMany(e => e.Links).Where(l => l.Kind == LinkKind.MadeFrom && l.To == pour && l.From.Kind == "unit").Select(l => l.From).Distinct().Order())
            poured.Add(await units.ReadAsync(unit, asKnown, cancel));
        return new(pour.Id, asKnown, [.. own.Select(e => e.Source)], poured);
    }

    /// <summary>This moment and the newest position.</summary>
    public async Task<AsKnown> NowAsync(CancellationToken cancel) => new(await dossiers.NewestAsync(cancel), clock.GetUtcNow());

    /// <summary>Null when the record is not there or is no decision about a unit.</summary>
    public async Task<DecisionThen?> DecisionAsync(Guid id, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        Record decision;
        await using (var read = new NpgsqlCommand("select position, bytes from trace.record where id = $1", connection) { Parameters = { new() { Value = id } } })
        await using (var row = await read.ExecuteReaderAsync(cancel))
        {
            if (!await row.ReadAsync(cancel)) return null;
            decision = Record.Read(row.GetFieldValue<byte[]>(1), row.GetInt64(0));
        }

        if (decision.Fact is not { About: { Kind: "unit" } unit } || Basis(decision.Fact) is not { } basis) return null;
        JudgementText? stored = null;
        await using (var kept = new NpgsqlCommand("select bytes from trace.judgement where hash = $1", connection) { Parameters = { new() { Value = basis.JudgementHash } } })
        {
            if (await kept.ExecuteScalarAsync(cancel) is byte[] bytes) stored = JudgementText.Read(bytes);
        }

        // The service judged at the moment it wrote the decision down as.
        var today = JudgementText.Of((await units.ReadAsync(unit, new(basis.Position, decision.Sent.Time), cancel)).Judgement);
        return new(decision, unit.Id, basis, stored, today, stored is null ? null : JudgementChanges.Between(stored, today));
    }

    private static DecisionBasis? Basis(IFact fact) => fact switch
    {
        IRelease release => release.Basis,
        HoldOverridden overridden => overridden.Basis,
        _ => null,
    };
}
