using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.Extensions.DependencyInjection;
using Traceability.PlantSimulator.Story;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.People;

/// <summary>Whoever types a name into what is recorded is told before it is sent; the service answers yes or no and keeps nothing. The name is invented.</summary>
public sealed class Names_in_free_text : IAsyncLifetime
{
    private const string Invented = "Ada Quillfeather";

    private PlantHost _host = null!;

    public async Task InitializeAsync()
    {
        _host = await PlantHost.StartAsync(false, ["web"]);
        var register = _host.Services.GetRequiredService<Register>();
        await register.SaveAsync([register.NewPerson("p-777", Invented, "a long password of seven words", "582913", ["yard"])], CancellationToken.None);
    }

    public async Task DisposeAsync() => await _host.DisposeAsync();

    private static async Task<(HttpStatusCode Status, JsonElement Answer)> AskAsync(HttpClient http, params string[] texts)
    {
        using var answer = await http.PostAsJsonAsync("/v1/free-text/names", new { texts });
        return (answer.StatusCode, answer.Content.Headers.ContentLength == 0 ? default : await answer.Content.ReadFromJsonAsync<JsonElement>());
    }

    [Fact]
    public async Task A_text_with_a_name_of_the_register_is_answered_with_the_warning_and_one_without_is_not()
    {
        using var engineer = await _host.SignInAsync(Plant.QualityEngineer);
        var named = (await AskAsync(engineer, "dry at noon", "ada quillfeather saw it")).Answer;
        Assert.True(named.GetProperty("named").GetBoolean());
        Assert.Equal("This text names a person. Records cannot be erased; write the badge id instead.", named.GetProperty("warning").GetString());
        Assert.True((await AskAsync(engineer, "Quillfeather held the tape")).Answer.GetProperty("named").GetBoolean());
        var plain = (await AskAsync(engineer, "p-777 held the tape", "quillfeather grass in the gauge", "heat QF-Quillfeather-2")).Answer;
        Assert.False(plain.GetProperty("named").GetBoolean());
        Assert.DoesNotContain("Ada", named.GetRawText(), StringComparison.OrdinalIgnoreCase);
        Assert.Equal(0, await _host.ScalarAsync("select count(*) from trace.record"));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await AskAsync(engineer, [.. Enumerable.Repeat("x", 21)])).Status);
    }

    [Fact]
    public async Task A_name_that_was_erased_is_a_name_no_more()
    {
        var register = _host.Services.GetRequiredService<Register>();
        await register.SaveAsync([register.Person("p-777")! with { DisplayName = PeopleDesk.Erased }], CancellationToken.None);
        using var engineer = await _host.SignInAsync(Plant.QualityEngineer);
        Assert.False((await AskAsync(engineer, Invented, PeopleDesk.Erased)).Answer.GetProperty("named").GetBoolean());
    }

    [Fact]
    public async Task No_device_no_agencys_inspector_and_nobody_from_outside_may_ask_who_is_in_the_register()
    {
        using var inspector = await _host.SignInAsync(Plant.NorthInspector);
        Assert.Equal(HttpStatusCode.Forbidden, (await AskAsync(inspector, Invented)).Status);
        using var http = new HttpClient();
        using var device = _host.DeviceRequest(HttpMethod.Post, "/v1/free-text/names", Plant.Office.Device, JsonContent.Create(new { texts = new[] { Invented } }));
        Assert.Equal(HttpStatusCode.Unauthorized, (await http.SendAsync(device)).StatusCode);
        using var nobody = new HttpRequestMessage(HttpMethod.Post, new Uri(_host.Address, "/v1/free-text/names")) { Content = JsonContent.Create(new { texts = new[] { Invented } }) };
        Assert.Equal(HttpStatusCode.Unauthorized, (await http.SendAsync(nobody)).StatusCode);
    }
}
