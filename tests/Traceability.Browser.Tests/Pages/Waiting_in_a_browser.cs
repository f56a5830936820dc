using System.Net.Http.Headers;
using System.Text.Json;
using Microsoft.Playwright;
using Traceability.Browser.Tests.Hosting;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story;
using Fact = Xunit.FactAttribute;

namespace Traceability.Browser.Tests.Pages;

/// <summary>What waits for a person before it counts, confirmed, approved and refused in a real Chromium by those it waits for.</summary>
[Collection(PagesCollection.Name)]
public sealed class Waiting_in_a_browser(CastPlant cast) : PagesTest(cast)
{
    private static CloudEvent Event(string id, IFact fact, Worker person) => CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new
    {
        specversion = "1.0", id, source = Plant.Office.Source, type = FactCatalog.Of(fact).Type, time = TimeProvider.System.GetUtcNow().AddHours(-1).ToString("O"), datacontenttype = "application/json",
        person = person.Id, data = FactCatalog.Write(fact),
    }));

    /// <summary>By the station's key alone, as a station without a sign-on sends it.</summary>
    private async Task SendAloneAsync(CloudEvent fact)
    {
        using var http = new HttpClient();
        using var request = new HttpRequestMessage(HttpMethod.Post, new Uri(Running.Address, "v1/facts"))
        { Content = new ByteArrayContent(fact.Canonical.ToArray()) { Headers = { ContentType = new MediaTypeHeaderValue("application/cloudevents+json") } } };
        request.Headers.Add("X-Device-Id", Plant.Office.Device);
        request.Headers.Add("X-Device-Key", Running.Credentials.Device(Plant.Office.Device).Key);
        (await http.SendAsync(request)).EnsureSuccessStatusCode();
    }

    private async Task<string> CountAsync(CloudEvent fact) => (await Running.RowsAsync($"select count(*) from trace.record where id = '{fact.RecordId}'"))[0][0];

    [Fact]
    public async Task A_claim_is_confirmed_by_its_person_after_a_wrong_pin_and_another_is_refused()
    {
        CloudEvent Notice(string id) => Event(id, new NoticeGiven([CastPlant.Key + "RF-0003"], HoldKind.Ship, TimeProvider.System.GetUtcNow().AddDays(2), "Message " + id), Plant.QualityEngineer);
        var (mine, notMine) = (Notice("claimed-1"), Notice("claimed-2"));
        await SendAloneAsync(mine);
        await SendAloneAsync(notMine);
        await RunningPlant.EventuallyAsync(async () => (await Running.RowsAsync($"select count(*) from trace.quarantine where id in ('{mine.RecordId}', '{notMine.RecordId}')"))[0][0] == "2", "both are kept");
        var page = await SignInAsync(Plant.QualityEngineer);
        await page.GetByRole(AriaRole.Link, new() { Name = "Waiting for me" }).ClickAsync();
        var line = page.Locator("li.line", new() { HasText = "Message claimed-1" });
        await line.GetByText("What it says").ClickAsync();
        await PictureAsync(page, "waiting-claims");

        await line.GetByLabel("Your PIN").First.FillAsync(WrongPin);
        await line.GetByRole(AriaRole.Button, new() { Name = "Confirm" }).ClickAsync();
        await page.Locator("main [role=alert]", new() { HasText = "The PIN is not right" }).WaitForAsync();
        Assert.Equal("0", await CountAsync(mine));
        await line.GetByLabel("Your PIN").First.FillAsync(Pin(Plant.QualityEngineer));
        await line.GetByRole(AriaRole.Button, new() { Name = "Confirm" }).ClickAsync();
        await page.Locator("main [role=status]", new() { HasText = "Confirmed." }).WaitForAsync();
        Assert.Equal("1", await CountAsync(mine));

        line = page.Locator("li.line", new() { HasText = "Message claimed-2" });
        await line.Locator("summary", new() { HasText = "Not mine" }).ClickAsync();
        await line.GetByLabel("Why").FillAsync("I gave no such notice");
        await line.GetByLabel("Your PIN").Last.FillAsync(Pin(Plant.QualityEngineer));
        await line.GetByRole(AriaRole.Button, new() { Name = "Not mine" }).ClickAsync();
        await page.Locator("main [role=status]", new() { HasText = "never counts" }).WaitForAsync();
        Assert.Equal("0", await CountAsync(notMine));
    }

    [Fact]
    public async Task What_takes_bad_news_back_counts_once_the_second_person_pressed_approve()
    {
        using var stations = new ServiceClient(Running.Address, Running.Credentials);
        var raised = Event("raised-1", new NonconformanceRaised("NC-901", [CastPlant.Key + "RF-0004"], NonconformanceClass.Minor, false, "Bug holes at the bulkhead"), Plant.QualityEngineer);
        await stations.RecordAsync(Plant.Office.Device, [raised], CancellationToken.None);
        var withdrawn = Event("withdrawn-1", new RecordWithdrawn(raised.RecordId, 1, "Raised on the wrong unit"), Plant.QualityEngineer);
        Assert.Equal("approval", (await stations.RecordAsync(Plant.Office.Device, [withdrawn], CancellationToken.None))[0].Status);

        var author = await SignInAsync(Plant.QualityEngineer);
        await author.GetByRole(AriaRole.Link, new() { Name = "Waiting for me" }).ClickAsync();
        await author.GetByRole(AriaRole.Heading, new() { NameRegex = new("of yours waits? for somebody else") }).WaitForAsync();
        Assert.Equal(0, await author.GetByRole(AriaRole.Button, new() { Name = "Approve record withdrawn", Exact = false }).CountAsync());

        var page = await SignInAsync(Plant.DeputyEngineer);
        await page.GetByRole(AriaRole.Link, new() { Name = "Waiting for me" }).ClickAsync();
        var line = page.Locator("li.line", new() { HasText = "Raised on the wrong unit" });
        await PictureAsync(page, "waiting-approvals");
        await line.GetByLabel("Your PIN").First.FillAsync(Pin(Plant.DeputyEngineer));
        await line.GetByRole(AriaRole.Button, new() { Name = "Approve" }).ClickAsync();
        await page.Locator("main [role=status]", new() { HasText = "Approved." }).WaitForAsync();
        Assert.Equal("1", await CountAsync(withdrawn));
    }
}
