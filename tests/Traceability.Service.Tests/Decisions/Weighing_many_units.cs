using System.Diagnostics;
using System.Globalization;
using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Operations;
using Traceability.Service.Recording;
using Traceability.Service.Tests.Hosting;
using Xunit.Abstractions;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Decisions;

/// <summary>A change that bears on many units is judged before anybody waits for it; what comes meanwhile is taken into account.</summary>
public sealed class Weighing_many_units(ITestOutputHelper output) : IAsyncLifetime
{
    // More than a day's pours share a heat; sixty-four is past the sixty that a heat of a busy job reaches, and under the hundred that are judged.
    private const int Units = 64;

    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    private PlantHost _host = null!;
    private Scenario _story = null!;
    private HttpClient _engineer = null!;

    public async Task InitializeAsync()
    {
        _host = await PlantHost.StartAsync(false, ["web"], "--Scenario:Clock=true");
        _story = PlantStory.RigidFrame(91, Units, PlantStory.StartFor(Units, Now));
        _host.Services.GetRequiredService<ScenarioClock>().Set(Now);
        var recorder = _host.Services.GetRequiredService<Recorder>();
        foreach (var batch in _story.Facts.Chunk(500)) await recorder.RecordAsync([.. batch.Select(Delivered)], CancellationToken.None);
        _engineer = await _host.SignInAsync(Plant.QualityEngineer);
    }

    public async Task DisposeAsync()
    {
        _engineer.Dispose();
        await _host.DisposeAsync();
    }

    private static Received Delivered(StoryFact fact) => new(fact.Event.Canonical.ToArray(), fact.Device, "device-key", fact.ArrivesAt);

    private string Pin(Worker worker) => _host.Credentials.Person(worker.Id).Pin;

    /// <summary>The certificate of the heat that is in the most units, and how many those are.</summary>
    private async Task<(StoryFact Certified, long Units)> HeatAsync()
    {
        (StoryFact Certified, long Units) most = (null!, 0);
        foreach (var certified in _story.Facts.Where(f => f.Event.Type == FactCatalog.Of<LotCertified>().Type))
        {
            var lot = FactCatalog.Read(FactCatalog.All[certified.Event.Type], certified.Event.Data).About.Key;
            var units = await _host.ScalarAsync($"""
                with recursive up(subject) as (select '{lot}' union select l.from_subject from up join trace.link l on l.to_subject = up.subject)
                select count(*) from up where subject like 'unit:%'
                """);
            if (units > most.Units) most = (certified, units);
        }

        return most;
    }

    private Task<HttpResponseMessage> CorrectAsync(HttpClient who, StoryFact fact, int version) => who.PostAsJsonAsync("/v1/decisions/corrections",
        new { record = fact.Event.RecordId, replacedVersion = version, data = fact.Event.Data, reason = "read again", pin = Pin(who == _engineer ? Plant.QualityEngineer : Plant.Receiver) });

    /// <summary>Waits until somebody waits for the recorder's row, which the test holds.</summary>
    private Task SomebodyWaitsAsync() => PlantHost.EventuallyAsync(async () =>
        await _host.ScalarAsync("select count(*) from pg_stat_activity where datname = current_database() and wait_event_type = 'Lock' and query like 'update trace.recorder%'") > 0, "somebody waits for the recorder");

    private Received Fact(IFact fact, Worker person, string id) => Entry(JsonSerializer.SerializeToUtf8Bytes(new
    {
        specversion = "1.0", id, source = Plant.Office.Source, type = FactCatalog.Of(fact).Type, time = Now.ToString("O", CultureInfo.InvariantCulture), person = person.Id, clockoffsetms = 0, data = FactCatalog.Write(fact),
    }));

    private static Received Entry(byte[] json) => new(CloudEvent.Read(json).Canonical.ToArray(), Plant.Office.Device, "device-key", Now);

    [Fact]
    public async Task A_correction_that_bears_on_more_than_sixty_units_is_judged_before_anybody_waits_and_facts_are_recorded_meanwhile()
    {
        var (certified, units) = await HeatAsync();
        Assert.True(units > 60, $"{units} units");
        var recorder = _host.Services.GetRequiredService<Recorder>();
        using var spans = new Spans();
        var began = Stopwatch.GetTimestamp();

        var correcting = spans.TracedAsync(() => CorrectAsync(_engineer, certified, 1));
        var meanwhile = 0;
        while (!correcting.IsCompleted)
        {
            await recorder.RecordAsync([Fact(new FormOiled("F-MEANWHILE", "U-NONE", "agent"), Plant.FormForeman, $"meanwhile-{meanwhile++}")], CancellationToken.None);
        }

        using var answer = await correcting;
        Assert.Equal(HttpStatusCode.Created, answer.StatusCode);
        Assert.Equal(units, (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("units").GetInt64());
        var write = Assert.Single(spans.Named("write"));
        output.WriteLine($"{units} units: answered after {Stopwatch.GetElapsedTime(began).TotalMilliseconds:0} ms, of which everybody waited {write.Duration.TotalMilliseconds:0} ms; {meanwhile} other facts recorded meanwhile, one at a time");
        Assert.Equal(0, write.GetTagItem(Telemetry.JudgementsInside));
        Assert.True(meanwhile > 5, $"{meanwhile} facts were recorded while it was judged");
        Assert.Single(spans.Named("rehearse"));
    }

    [Fact]
    public async Task What_comes_between_judging_and_writing_and_bears_on_one_unit_has_that_unit_judged_anew_and_no_other()
    {
        var (certified, _) = await HeatAsync();
        var inspected = _story.Facts.First(f => f.Event.Type == FactCatalog.Of<CloseUpInspected>().Type);
        using var spans = new Spans();

        using var answer = await spans.TracedAsync(() => BetweenAsync(() => CorrectAsync(_engineer, certified, 1), held =>
        {
            var again = Fact(new RecordCorrected(inspected.Event.RecordId, 1, inspected.Event.Type, inspected.Event.Data, "read again"), Plant.QualityEngineer, "between");
            return held.AddAsync([(again, CloudEvent.ReadCanonical(again.Canonical))], CancellationToken.None);
        }));

        Assert.Equal(HttpStatusCode.Created, answer.StatusCode);
        var turns = spans.Named("rehearse").OrderBy(r => r.StartTimeUtc).Select(r => spans.Named("judge").Where(j => j.ParentSpanId == r.SpanId).Select(j => (string)j.GetTagItem(Telemetry.Unit)!).ToList()).ToList();
        Assert.Equal(2, turns.Count);
        Assert.True(turns[0].Distinct().Count() > 60);
        // Before and after.
        Assert.Equal(Enumerable.Repeat(FactCatalog.Read(FactCatalog.All[inspected.Event.Type], inspected.Event.Data).About.Id, 2), turns[1]);
        Assert.All(spans.Named("write"), w => Assert.Equal(0, w.GetTagItem(Telemetry.JudgementsInside)));
    }

    [Fact]
    public async Task A_release_that_comes_between_judging_and_writing_stops_the_author_who_corrects_what_it_rests_on()
    {
        var (certified, _) = await HeatAsync();
        using var author = await _host.SignInAsync(Plant.Receiver);
        var before = await _host.ScalarAsync("select max(position) from trace.record");

        using var answer = await BetweenAsync(() => CorrectAsync(author, certified, 1), held => held.AddOwnAsync(
            new TyingReleased(_story.Units[6], new(before, new string('0', 64), "1")), Now, Plant.Inspector.Id, "pin", "service", CancellationToken.None));

        Assert.Equal(HttpStatusCode.Conflict, answer.StatusCode);
        var problem = await answer.Content.ReadFromJsonAsync<JsonElement>();
        Assert.Equal("/problems/decision-rests", problem.GetProperty("type").GetString());
        Assert.Contains(_story.Units[6], problem.GetProperty("detail").GetString(), StringComparison.Ordinal);
        Assert.Equal(0, await _host.ScalarAsync("select count(*) from trace.record where type = 'record.corrected.v1'"));
    }

    [Fact]
    public async Task Where_something_comes_each_time_the_answer_says_to_wait_and_nothing_is_written()
    {
        var (certified, _) = await HeatAsync();
        var recorder = _host.Services.GetRequiredService<Recorder>();
        var lot = (LotCertified)FactCatalog.Read(FactCatalog.All[certified.Event.Type], certified.Event.Data);
        var coming = 0;
        var correcting = CorrectAsync(_engineer, certified, 1);
        while (!correcting.IsCompleted)
        {
            await using var held = await recorder.BeginAsync(CancellationToken.None);
            // Something of the heat itself, so of every unit, each time somebody is about to write.
            var quarantined = Fact(new LotReceived(lot.Lot, Material.Bar, "another bundle"), Plant.QualityEngineer, $"each-{coming++}");
            await held.AddAsync([(quarantined, CloudEvent.ReadCanonical(quarantined.Canonical))], CancellationToken.None);
            await Task.WhenAny(correcting, SomebodyWaitsAsync());
            await held.CommitAsync(CancellationToken.None);
        }

        using var answer = await correcting;
        Assert.Equal(HttpStatusCode.Conflict, answer.StatusCode);
        Assert.Equal("/problems/keeps-changing", (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("type").GetString());
        Assert.Equal(0, await _host.ScalarAsync("select count(*) from trace.record where type = 'record.corrected.v1'"));
    }

    /// <summary>Has something recorded after the work was judged and before it is written: the test holds the recorder until the work waits for it.</summary>
    private async Task<HttpResponseMessage> BetweenAsync(Func<Task<HttpResponseMessage>> work, Func<Writing, Task> between)
    {
        await using var held = await _host.Services.GetRequiredService<Recorder>().BeginAsync(CancellationToken.None);
        var working = work();
        await SomebodyWaitsAsync();
        await between(held);
        await held.CommitAsync(CancellationToken.None);
        return await working;
    }
}
