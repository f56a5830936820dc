using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Traceability.PlantSimulator.Story;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;
using Traceability.Service.Tests.Pages;

namespace Traceability.Service.Tests.People;

/// <summary>What the administrator does with people, and what a given secret is good for.</summary>
public sealed class People_of_the_plant : AdministeredPlant
{
    private string AdministratorsPin => Host.Credentials.Person(Plant.Administrator.Id).Pin;

    private object Signed => new { pin = AdministratorsPin };

    [Theory]
    [InlineData("people/p-105/lapse")]
    [InlineData("people/p-105/secrets")]
    [InlineData("people/p-105/erasure")]
    [InlineData("people/p-105/roles")]
    [InlineData("people/p-105/end-sessions")]
    [InlineData("devices/cage-1/revocation")]
    public async Task What_cannot_be_taken_back_takes_theAdministrators_pin(string what)
    {
        var before = await Administrator.GetStringAsync(new Uri("/v1/people", UriKind.Relative));
        foreach (var pin in new[] { "", "000000" })
            Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync(Administrator, "/v1/" + what, new { roles = new[] { "yard" }, pin })).Status);
        using var bare = await Administrator.PostAsync(new Uri("/v1/" + what, UriKind.Relative), null);
        Assert.True((int)bare.StatusCode is 400 or 415, bare.StatusCode.ToString());

        Assert.Equal(before, await Administrator.GetStringAsync(new Uri("/v1/people", UriKind.Relative)));
        Assert.Null(Host.Services.GetRequiredService<Register>().Device("cage-1")!.RevokedAt);
    }

    private async Task<(HttpStatusCode Status, JsonElement Answer)> PostAsync(HttpClient http, string path, object? body)
    {
        using var answer = body is null ? await http.PostAsync(new Uri(path, UriKind.Relative), null) : await http.PostAsJsonAsync(path, body);
        return (answer.StatusCode, await answer.Content.ReadFromJsonAsync<JsonElement>());
    }

    private async Task<HttpClient?> SignInAsync(string person, string password)
    {
        var http = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = Host.Address };
        using var answer = await http.PostAsJsonAsync("/v1/sign-in", new { person, password });
        if (answer.IsSuccessStatusCode) return http;
        http.Dispose();
        return null;
    }

    [Fact]
    public async Task A_given_password_signs_nothing_until_its_owner_chose_a_password_and_a_pin()
    {
        var (status, given) = await PostAsync(Administrator, "/v1/people", new { id = "p-120", displayName = "Second inspector", roles = new[] { "plant-inspector" } });
        Assert.Equal(HttpStatusCode.Created, status);
        Assert.False(given.TryGetProperty("pin", out _));
        var password = given.GetProperty("password").GetString()!;
        using var inspector = (await SignInAsync("p-120", password))!;
        var refused = await PostAsync(inspector, "/v1/units/X-1/releases", new { hold = "pour", pin = "31415926" });
        Assert.Equal((HttpStatusCode.Forbidden, "/problems/pin-given"), (refused.Status, refused.Answer.GetProperty("type").GetString()));

        Task<(HttpStatusCode Status, JsonElement Answer)> ChooseAsync(string with, string newPassword, string newPin) => PostAsync(inspector, "/v1/people/p-120/own-secrets", new { password = with, newPassword, newPin });
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await ChooseAsync(password, "", "31415926")).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await ChooseAsync(password, "wet gravel at seven", "")).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await ChooseAsync(password, "wet gravel at seven", "1234")).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await ChooseAsync(password, "wet gravel at seven", "123456")).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await ChooseAsync(password, "Password2026!!", "31415926")).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await ChooseAsync(password, password, "31415926")).Status);
        Assert.Equal(HttpStatusCode.Unauthorized, (await ChooseAsync("not this", "wet gravel at seven", "31415926")).Status);
        using var form = await inspector.PostFormAsync("/account", "/account", ("id", "p-120"), ("password", password), ("newPin", "31415926"), ("newPassword", "wet gravel at seven"));
        Assert.Contains("Changed.", await form.Content.ReadAsStringAsync(), StringComparison.Ordinal);

        // The session that changed it goes on; what stands in the way is the second person now.
        Assert.Equal("/problems/second-person", (await PostAsync(inspector, "/v1/units/X-1/releases", new { hold = "pour", pin = "31415926" })).Answer.GetProperty("type").GetString());
    }

    [Fact]
    public async Task Sessions_end_everywhere_when_roles_or_secrets_change()
    {
        using var yard = await Host.SignInAsync(Plant.YardForeman);
        Assert.Equal(HttpStatusCode.OK, (await yard.PageAsync("/")).Status);
        Assert.Equal(HttpStatusCode.OK, (await PostAsync(Administrator, $"/v1/people/{Plant.YardForeman.Id}/roles", new { roles = new[] { "yard", "shipping" }, pin = AdministratorsPin })).Status);
        Assert.Equal(HttpStatusCode.Redirect, (await yard.PageAsync("/")).Status);

        var old = Host.Credentials.Person(Plant.YardForeman.Id).Password;
        using var again = (await SignInAsync(Plant.YardForeman.Id, old))!;
        Assert.Equal(HttpStatusCode.OK, (await PostAsync(Administrator, $"/v1/people/{Plant.YardForeman.Id}/secrets", Signed)).Status);
        Assert.Equal(HttpStatusCode.Redirect, (await again.PageAsync("/")).Status);
        Assert.Null(await SignInAsync(Plant.YardForeman.Id, old));
    }

    [Fact]
    public async Task Lapsed_roles_sign_in_no_more_and_hold_again_when_granted()
    {
        var password = Host.Credentials.Person(Plant.Dispatcher.Id).Password;
        await PostAsync(Administrator, $"/v1/people/{Plant.Dispatcher.Id}/lapse", Signed);
        Assert.Null(await SignInAsync(Plant.Dispatcher.Id, password));
        await PostAsync(Administrator, $"/v1/people/{Plant.Dispatcher.Id}/roles", new { roles = new[] { "shipping" }, pin = AdministratorsPin });
        using var dispatcher = await SignInAsync(Plant.Dispatcher.Id, password);
        Assert.NotNull(dispatcher);
    }

    [Fact]
    public async Task An_erased_name_is_gone_from_the_register_and_its_id_is_never_given_again()
    {
        var id = Plant.LapsedTechnician.Id;
        var name = Host.Credentials.Person(id).DisplayName;
        Assert.Equal(HttpStatusCode.OK, (await PostAsync(Administrator, $"/v1/people/{id}/erasure", Signed)).Status);
        Assert.DoesNotContain(name, await Administrator.GetStringAsync(new Uri("/v1/people", UriKind.Relative)), StringComparison.Ordinal);
        Assert.Equal(0, await Host.ScalarAsync($"select count(*) from marten.mt_doc_person where data::text like '%{name}%'"));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(Administrator, "/v1/people", new { id, displayName = "Somebody else", roles = new[] { "yard" } })).Status);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await PostAsync(Administrator, $"/v1/people/{id}/roles", new { roles = new[] { "yard" }, pin = AdministratorsPin })).Status);
    }

    [Theory]
    [InlineData("administrator", "quality-engineer")]
    [InlineData("auditor", "yard")]
    [InlineData("agency-inspector", "plant-inspector")]
    [InlineData("king")]
    [InlineData]
    public async Task Roles_that_are_held_alone_are_not_joined_and_unknown_ones_not_given(params string[] roles)
    {
        var (status, problem) = await PostAsync(Administrator, "/v1/people", new { id = "p-121", displayName = "New", roles });
        Assert.Equal(HttpStatusCode.UnprocessableEntity, status);
        Assert.StartsWith("roles: must ", problem.GetProperty("detail").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_page_brings_in_and_shows_the_secrets_once()
    {
        using var answer = await Administrator.PostFormAsync("/people", "/people", ("id", "p-122"), ("displayName", "New welder"), ("roles", "cage-crew"));
        var text = PageVisitor.Text(await answer.Content.ReadAsStringAsync());
        Assert.Contains("Shown once", text, StringComparison.Ordinal);
        var later = PageVisitor.Text((await Administrator.PageAsync("/people")).Html);
        Assert.Contains("New welder", later, StringComparison.Ordinal);
        Assert.Contains("PIN not yet chosen", later, StringComparison.Ordinal);
        Assert.DoesNotContain("Shown once", later, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Guessing_a_password_is_stopped_after_a_few_tries_even_with_the_right_one()
    {
        for (var i = 0; i < 5; i++) Assert.Null(await SignInAsync(Plant.Auditor.Id, "guess"));
        using var http = new HttpClient { BaseAddress = Host.Address };
        Assert.Equal(HttpStatusCode.TooManyRequests, (await PostAsync(http, "/v1/sign-in", new { person = Plant.Auditor.Id, password = Host.Credentials.Person(Plant.Auditor.Id).Password })).Status);
        // Others are not kept out by it.
        using var inspector = await Host.SignInAsync(Plant.Inspector);
    }

    [Fact]
    public async Task A_person_who_signs_on_at_a_second_kiosk_is_shown_at_both()
    {
        async Task<JsonElement> SignOnAsync(string device)
        {
            using var http = new HttpClient();
            var person = Host.Credentials.Person(Plant.Inspector.Id);
            using var answer = await http.SendAsync(Host.DeviceRequest(HttpMethod.Post, "/v1/kiosk/sign-on", device, JsonContent.Create(new { person = person.Id, pin = person.Pin })));
            return await answer.Content.ReadFromJsonAsync<JsonElement>();
        }

        Assert.Equal(0, (await SignOnAsync(Plant.Inspection.Device)).GetProperty("alsoAt").GetArrayLength());
        Assert.Equal(Plant.Inspection.Name, (await SignOnAsync(Plant.Laboratory.Device)).GetProperty("alsoAt")[0].GetProperty("name").GetString());
        Assert.Contains("2 devices", PageVisitor.Text((await Administrator.PageAsync("/people")).Html), StringComparison.Ordinal);
    }
}
