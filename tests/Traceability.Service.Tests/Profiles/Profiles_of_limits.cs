using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Imports;
using Traceability.Service.Tests.Hosting;
using Traceability.Service.Tests.Pages;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Profiles;

/// <summary>What units are judged by is on a page and in the interface: limits, sources, who confirmed them, which contracts adopted them.</summary>
public sealed class Profiles_of_limits : IAsyncLifetime
{
    private static readonly DateTimeOffset Now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    private static readonly Scenario Story = PlantStory.RigidFrame(71, 1, PlantStory.StartFor(1, Now));

    private PlantHost _host = null!;
    private int _sent;

    public async Task InitializeAsync()
    {
        _host = await PlantHost.StartAsync(false, ["web"]);
        await _host.SendAsync(Story.Facts);
    }

    public async Task DisposeAsync() => await _host.DisposeAsync();

    private async Task OfficeAsync(IFact fact)
    {
        using var stations = _host.Stations();
        await stations.SendAsync(Plant.Office.Device, [CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new JsonObject
        {
            ["specversion"] = "1.0",
            ["id"] = $"profiles-{_sent++}",
            ["source"] = Plant.Office.Source,
            ["type"] = FactCatalog.Of(fact).Type,
            ["time"] = "2026-05-30T09:00:00-05:00",
            ["person"] = Plant.QualityEngineer.Id,
            ["clockoffsetms"] = 0,
            ["data"] = JsonNode.Parse(FactCatalog.Write(fact).GetRawText()),
        }))], CancellationToken.None);
        await _host.ApproveWaitingAsync();
    }

    [Fact]
    public async Task A_profile_is_listed_with_what_is_confirmed_and_whom_it_governs_and_judges_only_once_adopted()
    {
        using var auditor = await _host.SignInAsync(Plant.Auditor);
        var inForce = (await auditor.GetFromJsonAsync<JsonElement>("/v1/profiles"))[0];
        var contract = inForce.GetProperty("contracts")[0].GetProperty("contract").GetString()!;
        await OfficeAsync(ProfileFile.Shipped("invented-east@1"));
        await OfficeAsync(new ProfileConfirmed("invented-east", 1, "cure.peak", "Invented Eastern Turnpike Authority, Materials Manual", "41", new DateOnly(2026, 5, 30)));

        var east = await auditor.GetFromJsonAsync<JsonElement>("/v1/profiles/invented-east@1");

        Assert.Empty(east.GetProperty("contracts").EnumerateArray());
        Assert.Equal(1, east.GetProperty("confirmed").GetInt32());
        var peak = east.GetProperty("profile").GetProperty("limits").EnumerateArray().Single(l => l.GetProperty("key").GetString() == "cure.peak");
        Assert.Equal((Plant.QualityEngineer.Id, "41"), (peak.GetProperty("confirmedBy").GetString(), peak.GetProperty("confirmedPage").GetString()));
        var (status, html) = await auditor.PageAsync("/profiles/invented-east@1");
        Assert.Equal(HttpStatusCode.OK, status);
        var text = PageVisitor.Text(html);
        Assert.Contains("No contract adopted it", text, StringComparison.Ordinal);
        Assert.Contains("concrete at most 160 F", text, StringComparison.Ordinal);
        Assert.Contains("from memory", text, StringComparison.Ordinal);
        Assert.Contains("not confirmed", text, StringComparison.Ordinal);
        var before = await _host.JudgeAsync(Story.Units[0], Now);
        Assert.Equal(inForce.GetProperty("name").GetString(), before.Profile);

        await OfficeAsync(new ProfileAdopted(contract, "invented-east", 1, "letter of the invented authority"));

        Assert.Equal("invented-east@1", (await _host.JudgeAsync(Story.Units[0], Now)).Profile);
        Assert.Contains(contract, PageVisitor.Text((await auditor.PageAsync("/profiles")).Html), StringComparison.Ordinal);
        Assert.Equal([contract], (await auditor.GetFromJsonAsync<JsonElement>("/v1/profiles/invented-east@1")).GetProperty("contracts").EnumerateArray().Select(c => c.GetProperty("contract").GetString()));
        Assert.Equal(HttpStatusCode.NotFound, (await auditor.PageAsync("/profiles/nobody@1")).Status);
        Assert.Equal(HttpStatusCode.NotFound, (await auditor.GetAsync("/v1/profiles/nobody@1")).StatusCode);
    }

    [Fact]
    public async Task A_unit_is_judged_under_two_profiles_side_by_side()
    {
        using var auditor = await _host.SignInAsync(Plant.Auditor);
        var unit = Story.Units[0];
        await OfficeAsync(ProfileFile.Shipped("invented-west@1"));

        var compared = await auditor.GetFromJsonAsync<JsonElement>($"/v1/units/{unit}/compare?profile=invented-west@1");

        Assert.Equal("invented-west@1", compared.GetProperty("other").GetProperty("profile").GetString());
        Assert.Contains(compared.GetProperty("findings").EnumerateArray(), f => f.GetProperty("requirement").GetString() == "strip.curing" && f.GetProperty("limitDiffers").GetBoolean());
        var (status, html) = await auditor.PageAsync($"/compare/{unit}?profile=invented-west@1");
        Assert.Equal(HttpStatusCode.OK, status);
        Assert.Contains("concrete at most 150 F", PageVisitor.Text(html), StringComparison.Ordinal);
        Assert.Contains($"/compare/{unit}", (await auditor.PageAsync("/units/" + unit)).Html, StringComparison.Ordinal);
        Assert.Contains("Judge by both", PageVisitor.Text((await auditor.PageAsync($"/compare/{unit}")).Html), StringComparison.Ordinal);
        foreach (var wrong in new[] { $"/v1/units/{unit}/compare?profile=nobody@1", "/v1/units/NO-SUCH/compare?profile=invented-west@1", $"/compare/{unit}?profile=nobody@1", "/compare/NO-SUCH" })
            Assert.Equal(HttpStatusCode.NotFound, (await auditor.GetAsync(wrong)).StatusCode);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await auditor.GetAsync($"/v1/units/{unit}/compare")).StatusCode);
    }

    [Fact]
    public async Task The_quality_engineer_confirms_a_limit_and_adopts_a_version_with_the_pin()
    {
        using var engineer = await _host.SignInAsync(Plant.QualityEngineer);
        using var inspector = await _host.SignInAsync(Plant.Inspector);
        var pin = _host.Credentials.Person(Plant.QualityEngineer.Id).Pin;
        await OfficeAsync(ProfileFile.Shipped("invented-east@1"));
        var contract = (await engineer.GetFromJsonAsync<JsonElement>("/v1/profiles")).EnumerateArray().SelectMany(p => p.GetProperty("contracts").EnumerateArray()).First().GetProperty("contract").GetString();
        object Confirmation(string key = "cure.peak", string profile = "invented-east@1", string? with = null) => new { profile, key, document = "Invented Eastern Turnpike Authority, Materials Manual", page = "41", pin = with ?? pin };
        object Adoption(string? to = null, string profile = "invented-east@1") => new { contract = to ?? contract, profile, reason = "letter of the invented authority", pin };
        async Task<HttpStatusCode> PostAsync(HttpClient http, string path, object body)
        {
            using var answer = await http.PostAsJsonAsync("/v1/decisions/" + path, body);
            return answer.StatusCode;
        }

        Assert.Equal(HttpStatusCode.Forbidden, await PostAsync(inspector, "limit-confirmations", Confirmation(with: _host.Credentials.Person(Plant.Inspector.Id).Pin)));
        Assert.Equal(HttpStatusCode.Forbidden, await PostAsync(engineer, "limit-confirmations", Confirmation(with: "0")));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, await PostAsync(engineer, "limit-confirmations", Confirmation("cure.peek")));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, await PostAsync(engineer, "limit-confirmations", Confirmation(profile: "invented-east")));
        Assert.Equal(HttpStatusCode.NotFound, await PostAsync(engineer, "limit-confirmations", Confirmation(profile: "invented-east@7")));
        Assert.Equal(HttpStatusCode.NotFound, await PostAsync(engineer, "profile-adoptions", Adoption("C-NOBODY")));
        Assert.Equal(HttpStatusCode.NotFound, await PostAsync(engineer, "profile-adoptions", Adoption(profile: "invented-east@7")));
        Assert.Equal(0, await _host.ScalarAsync("select count(*) from trace.record where type in ('profile.confirmed.v1', 'profile.adopted.v1')"));

        Assert.Equal(HttpStatusCode.Created, await PostAsync(engineer, "limit-confirmations", Confirmation()));
        Assert.Equal(HttpStatusCode.Created, await PostAsync(engineer, "profile-adoptions", Adoption()));
        Assert.Equal(HttpStatusCode.Conflict, await PostAsync(engineer, "profile-adoptions", Adoption()));

        var east = await engineer.GetFromJsonAsync<JsonElement>("/v1/profiles/invented-east@1");
        Assert.Equal((1, contract), (east.GetProperty("confirmed").GetInt32(), east.GetProperty("contracts")[0].GetProperty("contract").GetString()));
        Assert.Equal("invented-east@1", (await _host.JudgeAsync(Story.Units[0], Now)).Profile);
    }

    [Fact]
    public async Task The_schema_of_profile_files_is_served_beside_the_facts()
    {
        using var anybody = new HttpClient { BaseAddress = _host.Address };

        var schema = await anybody.GetFromJsonAsync<JsonElement>("/v1/schemas/profile-file");

        Assert.Equal("/v1/schemas/profile-file", schema.GetProperty("$id").GetString());
    }

    [Fact]
    public async Task Files_are_checked_with_line_and_reason_or_shown_complete()
    {
        var file = Path.Combine(_host.Folder, "plan.yaml");
        await File.WriteAllTextAsync(file, "profile: plan\nversion: 1\ninherits: invented-north@1\nrank: plantPlan\nlimits:\n  - { key: cure.peak, value: \"150\", unit: F, printed: \"150 F\", source: { document: \"Plan\", mark: commonPractice } }\n");
        var wrong = Path.Combine(_host.Folder, "wrong.yaml");
        await File.WriteAllTextAsync(wrong, "profile: wrong\nversion: 1\ninherits: plan@1\nlimits:\n  - { key: cure.peek, value: \"150\", unit: F }\n");
        using var output = new StringWriter();
        using var errors = new StringWriter();

        Assert.Equal(0, ProfileFiles.Run([file], false, output, errors));
        Assert.Contains("the plant's own: cure.peak 150 F", output.ToString(), StringComparison.Ordinal);
        Assert.Empty(errors.ToString());
        Assert.Equal(1, ProfileFiles.Run([file, wrong, Path.Combine(_host.Folder, "absent.yaml")], true, output, errors));
        Assert.Contains(wrong + ":5: 'cure.peek' is not a limit", errors.ToString(), StringComparison.Ordinal);
        Assert.Contains("absent.yaml:1:", errors.ToString(), StringComparison.Ordinal);
        Assert.Contains("\"planLimits\":[{\"key\":\"cure.peak\"", output.ToString(), StringComparison.Ordinal);
    }
}
