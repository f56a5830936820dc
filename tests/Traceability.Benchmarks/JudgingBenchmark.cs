using BenchmarkDotNet.Attributes;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Benchmarks;

/// <summary>One unit of 150 records under a full profile, in memory: ops/bench judging. Target under 1 ms, and no allocation storm.</summary>
[MemoryDiagnoser]
public class JudgingBenchmark
{
    private static readonly DateTimeOffset s_start = new(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5));

    private Dossier _dossier = null!;
    private UnitFile _file = null!;
    private DateTimeOffset _at;

    [GlobalSetup]
    public void Read()
    {
        var story = PlantStory.RigidFrame(7, 1, s_start);
        _at = story.End.AddDays(1);
        // Further facts of its own kinds bring the dossier to 150 records.
        var kinds = new[] { typeof(LotReceived), typeof(InstrumentCalibrated), typeof(PersonCertified), typeof(FormOiled), typeof(CureTemperatures) };
        var fillers = story.Facts.Where(f => kinds.Contains(FactCatalog.All[f.Event.Type].Clr)).ToList();
        var events = story.Facts.Select(f => f.Event).ToList();
        for (var more = 0; (_file = Assemble.Unit(_dossier = Dossier(story.Units[0], events))).Entries.Count < 150; more++)
            events.Add(Bench.Again(fillers[more % fillers.Count].Event, $"more-{more}"));
    }

    private Dossier Dossier(string unit, List<CloudEvent> events) =>
        new(Subject.Unit(unit), events.Count, [.. events.Select((e, i) => Record.Read(Record.Write(e, e.RecordId, "bench", "intake", _at, _at), i + 1))], PlantStory.Time);

    [Benchmark]
    public int AssembleAndJudge() => Judge.Dossier(_dossier, _at).Findings.Count;

    [Benchmark]
    public UnitFile AssembleOnly() => Assemble.Unit(_dossier);

    [Benchmark]
    public int JudgeOnly() => Judge.Unit(_file, _at).Findings.Count;

    [Benchmark]
    public string WithHash() => Judge.Dossier(_dossier, _at).Hash;
}
