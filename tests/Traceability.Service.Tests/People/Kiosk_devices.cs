using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Traceability.PlantSimulator.Story;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.People;

/// <summary>A kiosk with a key of its own: enrolled by code, believed by signature, missed by number.</summary>
public sealed class Kiosk_devices
{
    private static readonly DateTimeOffset Now = TimeProvider.System.GetUtcNow();

    [Fact]
    public async Task An_entry_that_never_arrived_is_named_by_its_number_and_content_hash()
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        var entries = kiosk.Entries(3);
        Assert.Equal(HttpStatusCode.OK, await kiosk.PostAsync(entries[0], entries[2]));

        var sequence = await kiosk.SequenceAsync(host);
        Assert.Equal(3, sequence.Highest);
        var missing = Assert.Single(sequence.Missing);
        Assert.Equal((2, entries[1].ContentHash), (missing.Sequence, missing.ContentHash));
        Assert.Empty(sequence.Broken);

        await kiosk.PostAsync(entries[1]);
        Assert.Empty((await kiosk.SequenceAsync(host)).Missing);
    }

    [Fact]
    public async Task A_body_that_was_changed_after_signing_is_refused_and_nothing_of_it_is_recorded()
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        var entries = kiosk.Entries(2);
        Assert.Equal(HttpStatusCode.Unauthorized, await kiosk.PostAsync(Kiosk.Body(entries[0]), signed: Kiosk.Body(entries[1])));
        Assert.Equal(0, await host.ScalarAsync("select count(*) from trace.record where source <> '/service/decisions'"));
    }

    [Theory]
    [InlineData(0, "GET /v1/kiosk/units", HttpStatusCode.OK)]
    [InlineData(-10, "GET /v1/kiosk/units", HttpStatusCode.Unauthorized)]
    [InlineData(10, "GET /v1/kiosk/units", HttpStatusCode.Unauthorized)]
    [InlineData(0, "POST /v1/kiosk/units", HttpStatusCode.Unauthorized)]
    [InlineData(0, "GET /v1/kiosk/shelf?after=0", HttpStatusCode.Unauthorized)]
    public async Task A_signed_reading_request_holds_for_its_own_path_and_a_short_time(int minutes, string names, HttpStatusCode expected)
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        Assert.Equal(expected, await kiosk.SendAsync(HttpMethod.Get, "/v1/kiosk/units", null, names: names, at: TimeProvider.System.GetUtcNow().AddMinutes(minutes)));
    }

    [Fact]
    public async Task A_captured_post_is_answered_once_and_not_at_all_for_another_address_or_later()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        using var kiosk = await Kiosk.EnrolAsync(host);
        var body = Kiosk.Body([.. kiosk.Entries(1)]);
        var at = TimeProvider.System.GetUtcNow();
        Task<HttpStatusCode> PostAsync(DateTimeOffset when, string names = "POST /v1/facts") => kiosk.SendAsync(HttpMethod.Post, "/v1/facts", body, "application/cloudevents-batch+json", names: names, at: when);
        Assert.Equal(HttpStatusCode.OK, await PostAsync(at));
        Assert.Equal(HttpStatusCode.Unauthorized, await PostAsync(at));
        Assert.Equal(HttpStatusCode.OK, await PostAsync(at.AddMilliseconds(1)));
        Assert.Equal(HttpStatusCode.Unauthorized, await PostAsync(at, "POST /v1/receipts"));
        Assert.Equal(HttpStatusCode.Unauthorized, await PostAsync(at.AddMinutes(-10)));
    }

    [Fact]
    public async Task A_source_belongs_to_the_device_that_it_is_tied_to_and_what_others_send_under_it_is_quarantined()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        using var kiosk = await Kiosk.EnrolAsync(host);
        // An enrolled kiosk is tied to its own source; a station with a shared key to none, until somebody ties it.
        await kiosk.PostAsync(kiosk.Entries(1, Plant.FormHall.Source).ToArray());
        await host.SendAsync([FormOiled("/kiosk/" + kiosk.Id), FormOiled("/anywhere")]);
        Assert.Equal(1, await host.ScalarAsync("select count(*) from trace.record where source <> '/service/decisions'"));
        Assert.Equal(1, await host.ScalarAsync("select count(*) from trace.quarantine where reason like '%does not send under the source%'"));
        Assert.Equal(1, await host.ScalarAsync("select count(*) from trace.quarantine where reason like '%belongs to device k-%'"));

        using var administrator = await host.SignInAsync(Plant.Administrator);
        async Task<HttpStatusCode> TieAsync(params string[] sources)
        {
            using var answer = await administrator.PostAsJsonAsync($"/v1/devices/{Plant.FormHall.Device}/sources", new { sources });
            return answer.StatusCode;
        }

        Assert.Equal(HttpStatusCode.UnprocessableEntity, await TieAsync("/kiosk/" + kiosk.Id));
        Assert.Equal(HttpStatusCode.NoContent, await TieAsync(Plant.FormHall.Source));
        await host.SendAsync([FormOiled("/anywhere"), FormOiled(Plant.FormHall.Source)]);
        Assert.Equal(2, await host.ScalarAsync("select count(*) from trace.record where source <> '/service/decisions'"));
        Assert.Equal(HttpStatusCode.NoContent, await TieAsync());
        await host.SendAsync([FormOiled("/anywhere")]);
        Assert.Equal(3, await host.ScalarAsync("select count(*) from trace.record where source <> '/service/decisions'"));
    }

    private static StoryFact FormOiled(string source) => new(Kiosk.Entry(source, 1), Plant.FormHall.Device, Now, true);

    [Fact]
    public async Task What_a_revoked_kiosk_sends_is_quarantined_and_not_lost()
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        using var administrator = await host.SignInAsync(Plant.Administrator);
        (await administrator.PostAsJsonAsync(new Uri($"/v1/devices/{kiosk.Id}/revocation", UriKind.Relative), new { pin = host.Credentials.Person(Plant.Administrator.Id).Pin })).EnsureSuccessStatusCode();
        await kiosk.PostAsync(kiosk.Entries(1)[0]);
        Assert.Equal(0, await host.ScalarAsync("select count(*) from trace.record where source <> '/service/decisions'"));
        Assert.Equal(1, await host.ScalarAsync($"select count(*) from trace.quarantine where device = '{kiosk.Id}' and reason like '%revoked%'"));
    }

    [Fact]
    public async Task A_kiosk_is_told_whom_to_forget_after_any_change_of_roles_or_secrets_and_gets_nothing_that_a_pin_could_be_tried_on()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        using var kiosk = await Kiosk.EnrolAsync(host);
        using var other = await Kiosk.EnrolAsync(host);
        using var administrator = await host.SignInAsync(Plant.Administrator);
        var pin = host.Credentials.Person(Plant.Administrator.Id).Pin;
        Worker[] people = [Plant.CageForeman, Plant.FormForeman, Plant.YardForeman, Plant.Dispatcher, Plant.PourForeman];
        var known = new List<object>();
        foreach (var worker in people)
        {
            var answer = await kiosk.AskAsync("/v1/kiosk/sign-on", new { person = worker.Id, pin = host.Credentials.Person(worker.Id).Pin });
            Assert.Equal(["alsoAt", "displayName", "known", "person", "roles", "token", "tokenMinutes"], answer.EnumerateObject().Select(m => m.Name).Order());
            known.Add(new { person = worker.Id, known = answer.GetProperty("known").GetString() });
        }

        async Task<IEnumerable<string?>> GoneAsync(Kiosk asking, IEnumerable<object> asked) => [.. (await asking.AskAsync("/v1/kiosk/known", asked)).EnumerateArray().Select(p => p.GetString())];
        Assert.Empty(await GoneAsync(kiosk, known));
        // What one kiosk was told is nothing at another.
        Assert.Equal(people.Select(p => p.Id), await GoneAsync(other, known));
        Assert.Equal(["p-999"], await GoneAsync(kiosk, [new { person = "p-999", known = "x" }]));

        async Task ChangeAsync(string what, object body) => (await administrator.PostAsJsonAsync("/v1/people/" + what, body)).EnsureSuccessStatusCode();
        await ChangeAsync($"{Plant.CageForeman.Id}/lapse", new { pin });
        await ChangeAsync($"{Plant.FormForeman.Id}/secrets", new { pin });
        await ChangeAsync($"{Plant.YardForeman.Id}/roles", new { roles = new[] { "shipping" }, pin });
        await ChangeAsync($"{Plant.Dispatcher.Id}/erasure", new { pin });
        Assert.Equal(people[..4].Select(p => p.Id), await GoneAsync(kiosk, known));
    }

    [Fact]
    public async Task Guessing_a_pin_is_stopped_after_a_few_tries_even_with_the_right_one()
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        var person = host.Credentials.Person(Plant.CageForeman.Id);
        Assert.Equal(HttpStatusCode.OK, await kiosk.SignOnAsync(person.Id, person.Pin));
        for (var i = 0; i < 5; i++) Assert.Equal(HttpStatusCode.Unauthorized, await kiosk.SignOnAsync(person.Id, "0"));
        Assert.Equal(HttpStatusCode.TooManyRequests, await kiosk.SignOnAsync(person.Id, person.Pin));
    }

    [Fact]
    public void A_numbering_names_gaps_repeats_and_entries_that_do_not_follow()
    {
        static NumberedEntry Entry(long n, string? previous, string hash) => new(n, previous, hash);
        Assert.Equivalent(new DeviceSequence(0, [], []), DeviceSequence.Of([]));
        Assert.Equivalent(new DeviceSequence(2, [], []), DeviceSequence.Of([Entry(2, "a", "b"), Entry(1, null, "a"), Entry(1, null, "a")]));
        Assert.Equivalent(new DeviceSequence(4, [new(1, null), new(2, null), new(3, "c")], []), DeviceSequence.Of([Entry(4, "c", "d")]));
        Assert.Equivalent(new DeviceSequence(2, [], [2]), DeviceSequence.Of([Entry(1, null, "a"), Entry(2, "x", "b")]));
        Assert.Equivalent(new DeviceSequence(1, [], [1]), DeviceSequence.Of([Entry(1, null, "a"), Entry(1, null, "b")]));
    }
}
