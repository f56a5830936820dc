using Npgsql;
using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging.Acceptance;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Service.Strength;

/// <summary>One test of a mix against the criteria.</summary>
/// <param name="Signals">What the control chart says of it.</param>
public sealed record MixTest(SampleStrength Sample, SeriesPoint Point, IReadOnlyList<string> Signals);

/// <summary>A sample whose acceptance cylinders are not broken yet, forecast from its youngest break.</summary>
/// <param name="Forecast">Null while too few pairs are there.</param>
public sealed record YoungSample(SampleStrength Sample, EarlyBreak Early, int Pairs, Forecast? Forecast);

/// <summary>Strength of a mix: its tests with the criteria, its control, and what its young breaks warn of.</summary>
/// <param name="DesignPsi">Design strength of the mix's approval, psi.</param>
/// <param name="Chart">Null below the fewest tests for one.</param>
/// <param name="Class">Standard of control; null below two tests.</param>
/// <param name="WithinTestPsi">Within-test standard deviation of companions, psi; null without companions.</param>
/// <param name="RequiredPsi">Average the mix has to be proportioned for, psi.</param>
/// <param name="BackTests">By purpose of the early break.</param>
/// <param name="More">Older samples there are and that are not shown.</param>
public sealed record MixStrength(
    string Mix, string Designation, decimal DesignPsi, string RuleSource, IReadOnlyList<MixTest> Tests, ControlChart? Chart, decimal? DeviationPsi, ControlClass? Class,
    decimal? WithinTestPsi, decimal? WithinTestPct, ControlClass? WithinTestClass, decimal RequiredPsi, bool RequiredFromRecords,
    IReadOnlyList<YoungSample> Young, IReadOnlyDictionary<CylinderPurpose, BackTest> BackTests, bool More, long Position);

/// <summary>
/// Reads the strength series of a mix from the records. For the plant: the warning in it is no evidence, and nothing a
/// packet is made of reads it.
/// </summary>
public sealed class StrengthReader(NpgsqlDataSource source, PlantTime time)
{
    private const int MostSamples = 400;

    // Batches of the mix by day, newest first, their samples, and with each record its family, as a dossier has it.
    private const string Records = """
        with recursive samples as (
            select b.to_subject as subject, a.from_subject as batch from trace.link a
            join trace.link b on b.from_subject = a.from_subject and b.kind = 2 and b.to_subject like 'sample:%'
            where a.to_subject = $1 and a.kind = 3 and a.from_subject like 'batch:%'
            order by right(a.from_subject, 10) desc, a.from_subject desc, b.to_subject desc limit $2
        ), gathered(position) as (
            select a.position from (select subject from samples union select batch from samples union select $1::text) s join trace.about a on a.subject = s.subject
            union
            select n.position from gathered g
            cross join lateral (select r.id from trace.record r where r.position = g.position offset 0) r
            cross join lateral (
                select a.position from trace.about a where a.subject = 'record:' || r.id::text
                union all
                select other.position from trace.about own join trace.about other on other.subject = own.subject
                where own.position = g.position and own.subject like 'record:%'
                union all
                select named.position from trace.about own
                join trace.record named on named.id = case when own.subject like 'record:%' then substring(own.subject from 8)::uuid end
                where own.position = g.position
            ) n
        )
        select g.position, r.bytes from gathered g
        cross join lateral (select r.bytes from trace.record r where r.position = g.position offset 0) r order by g.position
        """;

    private const string Profile = """
        select r.position, r.bytes from trace.record r where r.type = 'profile.published.v1' and r.position in (
            select a.position from trace.about a where a.subject in (
                select p.to_subject from trace.link u
                join trace.link c on c.from_subject = u.from_subject and c.kind = 3 and c.to_subject like 'contract:%'
                join trace.link p on p.from_subject = c.to_subject and p.kind = 3 and p.to_subject like 'profile:%'
                where u.to_subject = $1 and u.kind = 3 and u.from_subject like 'unit:%'))
        order by r.position desc limit 1
        """;

    /// <summary>The mixes that any record names, with how many samples each has, by id.</summary>
    public async Task<IReadOnlyList<(string Mix, int Samples)>> MixesAsync(CancellationToken cancel)
    {
        await using var command = source.CreateCommand("""
            select substr(m.subject, 5), (select count(distinct b.to_subject)::int from trace.link a
                join trace.link b on b.from_subject = a.from_subject and b.kind = 2 and b.to_subject like 'sample:%'
                where a.to_subject = m.subject and a.kind = 3 and a.from_subject like 'batch:%')
            from (select distinct subject from trace.about where subject like 'mix:%') m order by 1
            """);
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var mixes = new List<(string, int)>();
        while (await reader.ReadAsync(cancel)) mixes.Add((reader.GetString(0), reader.GetInt32(1)));
        return mixes;
    }

    /// <summary>The series of a mix; null while its approval or a profile that says what a test is, is not recorded.</summary>
    public async Task<MixStrength?> ReadAsync(string mix, CancellationToken cancel)
    {
        var subject = Subject.Mix(mix);
        var records = await RecordsAsync(Records, cancel, subject.Key, MostSamples);
        var entries = Assemble.Counted(records, time);
        var approval = entries.Select(e => e.Fact).OfType<MixApproved>().Where(m => m.Mix == mix).OrderBy(m => m.ApprovedOn).LastOrDefault();
        var profile = Assemble.Counted(await RecordsAsync(Profile, cancel, subject.Key), time).Select(e => e.Fact).OfType<ProfilePublished>().LastOrDefault();
        if (approval is null || profile is null || TestRule.Of(profile.Limits.ToDictionary(l => l.Key, StringComparer.Ordinal), profile.Rounding) is not { } rule) return null;
        // A mix that states an age of its own is tested at that age.
        rule = rule.At(approval.AcceptanceAgeDays) with { LowPsi = approval.DesignStrengthPsi.Value };
        return Of(approval, rule, $"{profile.Profile}, version {profile.Version}", entries, records.Count == 0 ? 0 : records[^1].Position);
    }

    /// <summary>The series from what counts of the records of a mix.</summary>
    public static MixStrength Of(MixApproved approval, TestRule rule, string ruleSource, IReadOnlyList<Entry> entries, long position)
    {
        var design = approval.DesignStrengthPsi.Value;
        var batches = entries.Select(e => e.Fact).OfType<BatchTicketed>().Where(b => b.Mix == approval.Mix).Select(b => b.About).ToHashSet();
        var series = StrengthSeries.Of(entries, rule).Where(s => batches.Contains(s.Batch)).ToList();
        var tested = series.FindAll(s => s.Psi is not null);
        var values = tested.ConvertAll(s => s.Psi!.Value);
        var points = StrengthAcceptance.Series(values, design, SeriesCriteria.Aci318);
        var chart = ControlChart.Of(values);
        var deviation = Statistics.StandardDeviation(values);
        var cylinders = tested.Count == 0 ? 0 : tested.GroupBy(s => s.Cylinders).MaxBy(g => g.Count())!.Key;
        var within = ControlClasses.WithinTestPsi([.. tested.Where(s => s.Cylinders == cylinders && s.RangePsi is not null).Select(s => s.RangePsi!.Value)], cylinders);
        var withinPct = within / (values.Count == 0 ? null : values.Average()) * 100;
        var required = deviation is { } s ? RequiredAverage.FromRecords(design, s, values.Count) : null;
        var pairs = tested.SelectMany(t => t.Early.Select(e => (e.Purpose, Pair: ((double)e.Psi, (double)t.Psi!.Value)))).ToLookup(p => p.Purpose, p => p.Pair);
        return new MixStrength(approval.Mix, approval.Designation, design, ruleSource,
            [.. tested.Select((t, i) => new MixTest(t, points[i], [.. (chart?.Signals ?? []).Where(x => x.Index == i).Select(x => x.Why)]))],
            chart, deviation, ControlClasses.Overall(values, design), within, withinPct, withinPct is { } pct ? ControlClasses.WithinTest(pct) : null,
            required ?? RequiredAverage.WithoutRecords(design, NoRecordRule.From2002), required is not null,
            [.. series.Where(t => t.Psi is null && t.Early.Count > 0).Select(t => Young(t, pairs, (double)design))],
            pairs.ToDictionary(p => p.Key, p => EarlyWarning.Test([.. p])), series.Count >= MostSamples, position);
    }

    private static YoungSample Young(SampleStrength sample, ILookup<CylinderPurpose, (double, double)> pairs, double design)
    {
        // The oldest of the young breaks says most.
        var early = sample.Early.MaxBy(e => e.AgeHours)!;
        var known = pairs[early.Purpose].ToList();
        return new YoungSample(sample, early, known.Count, EarlyWarning.Of(known, (double)early.Psi, design));
    }

    private async Task<IReadOnlyList<Record>> RecordsAsync(string sql, CancellationToken cancel, params object[] parameters)
    {
        await using var command = source.CreateCommand(sql);
        foreach (var parameter in parameters) command.Parameters.Add(new() { Value = parameter });
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var records = new List<Record>();
        while (await reader.ReadAsync(cancel)) records.Add(Record.Read(reader.GetFieldValue<byte[]>(1), reader.GetInt64(0)));
        return records;
    }
}
