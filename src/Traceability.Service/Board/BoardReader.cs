using Marten;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Assembling;
using Traceability.Service.Linking;
using Traceability.Service.Pages;

namespace Traceability.Service.Board;

/// <summary>The board at one moment.</summary>
/// <param name="Position">Newest log position.</param>
/// <param name="Stale">Units whose row is not up to date yet.</param>
public sealed record BoardNow(IReadOnlyList<Question> Questions, long Position, long Stale, DateTimeOffset At, int UnitsInPlant);

/// <summary>Reads what the ten questions are answered from: unit rows, which may lag, and the few kinds of facts that stand outside of units.</summary>
public sealed class BoardReader(IDocumentStore store, NpgsqlDataSource source, DossierStore dossiers, PlantSettings plant, PlantTime time)
{
    // The literal list is the one of the partial index record_outside_of_units.
    private const string Outside = """
        with outside as (
            select id, position, bytes from trace.record
            where type in ('lot.received.v1', 'lot.certified.v1', 'person.certified.v1', 'instrument.calibrated.v1', 'mix.approved.v1', 'source.approved.v1', 'plant.approved.v1') and position <= $1
        )
        select position, bytes from outside
        union all
        select r.position, r.bytes from outside o join trace.about a on a.subject = 'record:' || o.id::text join trace.record r on r.position = a.position where r.position <= $1
        """;

    public async Task<BoardNow> ReadAsync(CancellationToken cancel)
    {
        await using var session = store.QuerySession();
        var units = await session.Query<UnitRow>().Where(u => u.Watch < 2).ToListAsync(cancel);
        await using var connection = await source.OpenConnectionAsync(cancel);
        long position, stale;
        await using (var counts = new NpgsqlCommand("select coalesce(max(position), 0), (select count(*) from trace.stale_unit) from trace.record", connection))
        await using (var row = await counts.ExecuteReaderAsync(cancel))
        {
            await row.ReadAsync(cancel);
            (position, stale) = (row.GetInt64(0), row.GetInt64(1));
        }

        return Answer(units, await OutsideAsync(connection, position, cancel), position, stale, plant.Now);
    }

    /// <summary>
    /// The board as known then, with the clock of then and under today's rules: every unit of that time is judged from its
    /// records, so it takes some milliseconds for each.
    /// </summary>
    public async Task<BoardNow> ReadAsync(AsKnown asKnown, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        var serials = new List<string>();
        await using (var known = new NpgsqlCommand("select distinct substr(subject, 6) from trace.about where subject like 'unit:%' and position <= $1 order by 1", connection) { Parameters = { new() { Value = asKnown.Position } } })
        await using (var row = await known.ExecuteReaderAsync(cancel))
        {
            while (await row.ReadAsync(cancel)) serials.Add(row.GetString(0));
        }

        var units = new List<UnitRow>();
        foreach (var serial in serials)
        {
            var file = Assemble.Unit(await dossiers.LoadAsync(Subject.Unit(serial), asKnown.Position, cancel));
            var row = UnitRow.Of(file, Judge.Unit(file, asKnown.At), asKnown.Position, asKnown.At);
            if (row.Watch < 2) units.Add(row);
        }

        return Answer(units, await OutsideAsync(connection, asKnown.Position, cancel), asKnown.Position, 0, plant.Local(asKnown.At));
    }

    private static async Task<List<Record>> OutsideAsync(NpgsqlConnection connection, long position, CancellationToken cancel)
    {
        var records = new List<Record>();
        await using var command = new NpgsqlCommand(Outside, connection) { Parameters = { new() { Value = position } } };
        await using var reader = await command.ExecuteReaderAsync(cancel);
        while (await reader.ReadAsync(cancel)) records.Add(Record.Read(reader.GetFieldValue<byte[]>(1), reader.GetInt64(0)));
        return records;
    }

    private BoardNow Answer(IReadOnlyList<UnitRow> units, List<Record> outside, long position, long stale, DateTimeOffset now)
    {
        var facts = Assemble.Counted([.. outside.DistinctBy(r => r.Position)], time);
        return new(TenQuestions.Answer(new(units, Rack(facts), Validities(facts), now, plant)), position, stale, now, units.Count(u => !UnitState.IsOver(u.Phase)));
    }

    private static List<RackLot> Rack(IReadOnlyList<Entry> facts)
    {
        var certified = facts.Where(f => f.Fact is LotCertified).ToLookup(f => f.Fact.About, f => (LotCertified)f.Fact);
        return [.. facts.Where(f => f.Fact is LotReceived { Material: Material.Bar or Material.WeldedWire })
            .GroupBy(f => f.Fact.About)
            .Select(g => new RackLot(g.Key.Key, ((LotReceived)g.First().Fact).Description, g.Min(f => f.At.At), certified[g.Key].Any(),
                certified[g.Key].Any(c => c is { MeltedIn: not null, ManufacturedIn: not null })))];
    }

    // The newest end of validity counts: a renewed certificate does not lapse.
    private static List<Validity> Validities(IReadOnlyList<Entry> facts) =>
        [.. facts.Select(f => f.Fact switch
            {
                PersonCertified p => new Validity(f.Fact.About.Key, "certificate as " + Certificate(p.Certification), p.ValidThrough),
                InstrumentCalibrated i => new Validity(f.Fact.About.Key, "calibration of the " + Instrument(i.Kind), i.ValidThrough),
                MixApproved { ValidThrough: { } through } m => new Validity(f.Fact.About.Key, "approval of the mix " + m.Designation, through),
                SourceApproved s => new Validity(f.Fact.About.Key, $"approval of the source of {Word(s.Material)}", s.ValidThrough),
                PlantApproved { Status: not ApprovalStatus.Withdrawn } p => new Validity(f.Fact.About.Key, $"approval of the plant by {p.Agency}", p.Through),
                _ => null,
            })
            .OfType<Validity>().GroupBy(v => (v.Key, v.What)).Select(g => g.MaxBy(v => v.Through)!)];

    private static string Word(Material material) => material switch
    {
        Material.WeldedWire => "welded wire",
        Material.SupplementaryCementitious => "supplementary cementitious material",
        Material.FineAggregate => "fine aggregate",
        Material.CoarseAggregate => "coarse aggregate",
        _ => material.ToString().ToLowerInvariant(),
    };

    private static string Certificate(Certification certification) => certification switch
    {
        Certification.PlantInspector => "plant inspector",
        Certification.FieldTestingTechnician => "field testing technician",
        Certification.StrengthTestingTechnician => "strength testing technician",
        _ => "welder",
    };

    private static string Instrument(InstrumentKind kind) => kind switch
    {
        InstrumentKind.CompressionMachine => "compression machine",
        InstrumentKind.AirMeter => "air meter",
        InstrumentKind.CoverMeter => "cover meter",
        InstrumentKind.WaterMeter => "water meter",
        InstrumentKind.TemperatureProbe => "temperature probe",
        InstrumentKind.UnitWeightMeasure => "density measure",
        _ => kind.ToString().ToLowerInvariant(),
    };
}
